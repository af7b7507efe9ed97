-- AlterTable
ALTER TABLE "attempt" ADD COLUMN     "before_gas" JSONB;
