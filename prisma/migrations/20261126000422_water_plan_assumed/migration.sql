-- AlterTable
ALTER TABLE "water_record" ADD COLUMN     "assumed" BOOLEAN NOT NULL DEFAULT false;
