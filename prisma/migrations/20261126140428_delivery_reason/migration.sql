-- AlterTable
ALTER TABLE "webhook_delivery" ADD COLUMN     "last_reason" TEXT;
