-- AlterTable
ALTER TABLE "absence" ADD COLUMN     "back_at" TIMESTAMPTZ(3),
ADD COLUMN     "from_at" TIMESTAMPTZ(3),
ADD COLUMN     "people" INTEGER;

-- AlterTable
ALTER TABLE "closed_season" ADD COLUMN     "outside_only" BOOLEAN NOT NULL DEFAULT false;

-- AlterTable
ALTER TABLE "plan" ADD COLUMN     "basis" JSONB,
ADD COLUMN     "scope" JSONB,
ADD COLUMN     "to_phone" JSONB NOT NULL DEFAULT '[]',
ADD COLUMN     "warnings" JSONB NOT NULL DEFAULT '[]';

-- AlterTable
ALTER TABLE "work_order" ADD COLUMN     "lock_crew_id" UUID,
ADD COLUMN     "lock_day" DATE,
ADD COLUMN     "lock_from" TEXT,
ADD COLUMN     "lock_sequence" INTEGER,
ADD COLUMN     "lock_to" TEXT;

-- AddForeignKey
ALTER TABLE "work_order" ADD CONSTRAINT "work_order_lock_crew_id_fkey" FOREIGN KEY ("lock_crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;


ALTER TABLE absence ADD CONSTRAINT absence_part CHECK ((people IS NULL OR (people > 0 AND crew_id IS NOT NULL)) AND from_at < back_at);
ALTER TABLE work_order ADD CONSTRAINT work_order_lock CHECK (
  lock_from ~ '^([01]\d|2[0-3]):[0-5]\d$' AND lock_to ~ '^([01]\d|2[0-3]):[0-5]\d$' AND lock_from <= lock_to
  AND (lock_sequence IS NULL OR (lock_day IS NOT NULL AND lock_crew_id IS NOT NULL)));
