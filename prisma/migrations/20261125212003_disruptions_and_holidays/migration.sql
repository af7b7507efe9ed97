-- AlterTable
ALTER TABLE "absence" ADD COLUMN     "withdrawn_at" TIMESTAMPTZ(3);

-- AlterTable
ALTER TABLE "closed_season" ADD COLUMN     "withdrawn_at" TIMESTAMPTZ(3);

-- AlterTable
ALTER TABLE "route" ADD COLUMN     "overtime_minor" INTEGER NOT NULL DEFAULT 0,
ADD COLUMN     "overtime_s" INTEGER NOT NULL DEFAULT 0;

-- CreateTable
CREATE TABLE "disruption" (
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "day" DATE NOT NULL,
    "to_day" DATE NOT NULL,
    "name" TEXT NOT NULL,
    "absence_id" UUID,
    "closed_season_id" UUID,
    "plan_id" UUID NOT NULL,
    "reported_by" TEXT NOT NULL,
    "withdrawn_at" TIMESTAMPTZ(3),
    "withdrawn_by" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "disruption_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "holiday" (
    "id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "name" TEXT NOT NULL,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "holiday_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "disruption_absence_id_key" ON "disruption"("absence_id");

-- CreateIndex
CREATE UNIQUE INDEX "disruption_closed_season_id_key" ON "disruption"("closed_season_id");

-- CreateIndex
CREATE UNIQUE INDEX "disruption_plan_id_key" ON "disruption"("plan_id");

-- CreateIndex
CREATE INDEX "disruption_day_idx" ON "disruption"("day");

-- AddForeignKey
ALTER TABLE "disruption" ADD CONSTRAINT "disruption_absence_id_fkey" FOREIGN KEY ("absence_id") REFERENCES "absence"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "disruption" ADD CONSTRAINT "disruption_closed_season_id_fkey" FOREIGN KEY ("closed_season_id") REFERENCES "closed_season"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "disruption" ADD CONSTRAINT "disruption_plan_id_fkey" FOREIGN KEY ("plan_id") REFERENCES "plan"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What Prisma cannot say. ---------------------------------------------------------------------------

ALTER TABLE disruption ADD CONSTRAINT disruption_kind_word CHECK (kind IN ('crew_sick', 'crew_short', 'crew_broken_down', 'rain'));
ALTER TABLE disruption ADD CONSTRAINT disruption_days CHECK (day <= to_day);
ALTER TABLE disruption ADD CONSTRAINT disruption_of_one_record CHECK (num_nonnulls(absence_id, closed_season_id) = 1);
ALTER TABLE disruption ADD CONSTRAINT disruption_withdrawn CHECK ((withdrawn_at IS NULL) = (withdrawn_by IS NULL));
ALTER TABLE route ADD CONSTRAINT route_overtime CHECK (overtime_s >= 0 AND overtime_minor >= 0);
CREATE UNIQUE INDEX holiday_day_once ON holiday (day) WHERE archived_on IS NULL;

DO $$
DECLARE t text;
BEGIN
  FOREACH t IN ARRAY ARRAY['disruption', 'holiday'] LOOP
    EXECUTE format('CREATE TRIGGER %I BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION bump_version()', t || '_version', t);
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_insert', t);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_update', t);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_delete', t);
  END LOOP;
END $$;
