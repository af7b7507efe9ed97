-- AlterTable
ALTER TABLE "trend" ADD COLUMN     "policy_hash" TEXT NOT NULL DEFAULT '';
