-- AlterTable
ALTER TABLE "incident" ADD COLUMN     "withdrawn_at" TIMESTAMPTZ(3),
ADD COLUMN     "withdrawn_because" TEXT,
ADD COLUMN     "withdrawn_by" TEXT;
ALTER TABLE incident ADD CONSTRAINT incident_withdrawn CHECK ((withdrawn_at IS NULL) = (withdrawn_by IS NULL) AND (withdrawn_at IS NULL) = (withdrawn_because IS NULL));
