-- AlterTable
ALTER TABLE "attempt" ADD COLUMN     "cautions_seen" TEXT[] DEFAULT ARRAY[]::TEXT[];

-- AlterTable
ALTER TABLE "work_order_task" ADD COLUMN     "accepted_at" TIMESTAMPTZ(3),
ADD COLUMN     "accepted_by" TEXT,
ADD COLUMN     "added_by" TEXT,
ADD COLUMN     "part" INTEGER NOT NULL DEFAULT 1,
ADD COLUMN     "price_minor" INTEGER,
ADD COLUMN     "taken_minutes" INTEGER;

-- CreateTable
CREATE TABLE "locate_rule" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "notice" INTEGER NOT NULL,
    "notice_unit" TEXT NOT NULL,
    "call_day_counts" BOOLEAN NOT NULL DEFAULT false,
    "life" INTEGER,
    "life_unit" TEXT,
    "life_from" TEXT NOT NULL DEFAULT 'call',
    "life_counts_first" BOOLEAN NOT NULL DEFAULT false,
    "start_within_days" INTEGER,
    "hand_dig_mm" DOUBLE PRECISION,
    "holidays" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "source" TEXT NOT NULL,
    "confirmed_by" TEXT,
    "confirmed_on" DATE,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "locate_rule_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "locate_ticket" (
    "id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "rule_id" UUID NOT NULL,
    "number" TEXT,
    "called_at" TIMESTAMPTZ(3) NOT NULL,
    "emergency_because" TEXT,
    "dig_from" TIMESTAMPTZ(3) NOT NULL,
    "first_day" DATE NOT NULL,
    "last_day" DATE,
    "utilities" JSONB NOT NULL DEFAULT '[]',
    "marks_seen_at" TIMESTAMPTZ(3),
    "marks_seen_by" TEXT,
    "private_located_at" TIMESTAMPTZ(3),
    "private_located_by" TEXT,
    "replaced_by_id" UUID,
    "author" TEXT NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "locate_ticket_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "trench_check" (
    "id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "checked_at" TIMESTAMPTZ(3) NOT NULL,
    "checked_by" TEXT NOT NULL,
    "depth_m" DOUBLE PRECISION NOT NULL,
    "protection" TEXT NOT NULL,
    "exit_within_m" DOUBLE PRECISION,
    "spoil_back_m" DOUBLE PRECISION,
    "oxygen_percent" DOUBLE PRECISION,
    "water_gathers" BOOLEAN NOT NULL DEFAULT false,
    "signs_of_cave_in" BOOLEAN NOT NULL DEFAULT false,
    "passed" BOOLEAN NOT NULL,
    "faults" JSONB NOT NULL DEFAULT '[]',
    "note" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "trench_check_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "rain" (
    "id" UUID NOT NULL,
    "area" TEXT,
    "ended_at" TIMESTAMPTZ(3) NOT NULL,
    "author" TEXT NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "rain_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "water_record" (
    "id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "phase" TEXT NOT NULL,
    "receiver" TEXT NOT NULL,
    "place" TEXT,
    "permit_ref" TEXT,
    "water_l" DOUBLE PRECISION,
    "sludge_l" DOUBLE PRECISION,
    "sludge_to" TEXT,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "author" TEXT NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "water_record_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "incident" (
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "site_id" UUID,
    "work_order_id" UUID,
    "happened_at" TIMESTAMPTZ(3) NOT NULL,
    "what" TEXT NOT NULL,
    "consequence" TEXT NOT NULL DEFAULT 'none',
    "tell" JSONB NOT NULL DEFAULT '[]',
    "author" TEXT NOT NULL,
    "closed_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "incident_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "locate_ticket_work_order_id_idx" ON "locate_ticket"("work_order_id");

-- CreateIndex
CREATE INDEX "trench_check_work_order_id_checked_at_idx" ON "trench_check"("work_order_id", "checked_at");

-- CreateIndex
CREATE INDEX "rain_ended_at_idx" ON "rain"("ended_at");

-- CreateIndex
CREATE INDEX "water_record_work_order_id_idx" ON "water_record"("work_order_id");

-- CreateIndex
CREATE INDEX "water_record_at_idx" ON "water_record"("at");

-- CreateIndex
CREATE INDEX "incident_happened_at_idx" ON "incident"("happened_at");

-- AddForeignKey
ALTER TABLE "locate_ticket" ADD CONSTRAINT "locate_ticket_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "locate_ticket" ADD CONSTRAINT "locate_ticket_rule_id_fkey" FOREIGN KEY ("rule_id") REFERENCES "locate_rule"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "trench_check" ADD CONSTRAINT "trench_check_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "water_record" ADD CONSTRAINT "water_record_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "incident" ADD CONSTRAINT "incident_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "incident" ADD CONSTRAINT "incident_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- A dig in parts over days has one open task a part.
DROP INDEX task_one_open_per_line;
CREATE UNIQUE INDEX task_one_open_per_line ON work_order_task (line_id, kind, part) WHERE open AND line_id IS NOT NULL;
CREATE UNIQUE INDEX locate_ticket_one_in_force ON locate_ticket (work_order_id) WHERE replaced_by_id IS NULL;

ALTER TABLE work_order_task ADD CONSTRAINT work_order_task_more CHECK (
  part > 0 AND taken_minutes > 0 AND price_minor >= 0 AND (accepted_by IS NULL) = (accepted_at IS NULL));
ALTER TABLE locate_rule ADD CONSTRAINT locate_rule_range CHECK (
  notice >= 0 AND life > 0 AND (life IS NULL) = (life_unit IS NULL) AND start_within_days > 0 AND (confirmed_by IS NULL) = (confirmed_on IS NULL));
ALTER TABLE locate_ticket ADD CONSTRAINT locate_ticket_days CHECK (first_day <= last_day);
ALTER TABLE trench_check ADD CONSTRAINT trench_check_range CHECK (depth_m >= 0 AND exit_within_m >= 0 AND spoil_back_m >= 0 AND oxygen_percent BETWEEN 0 AND 100);
ALTER TABLE water_record ADD CONSTRAINT water_record_range CHECK (water_l >= 0 AND sludge_l >= 0);
-- Water reaches a storm drain or a water body only under a permit, a sanitary sewer only with leave.
ALTER TABLE water_record ADD CONSTRAINT water_record_permit CHECK (
  receiver NOT IN ('storm_drain', 'water_body', 'sanitary_sewer') OR phase = 'recorded' OR permit_ref IS NOT NULL);

ALTER TABLE precondition DROP CONSTRAINT precondition_kind_word;
ALTER TABLE precondition ADD CONSTRAINT precondition_kind_word CHECK (kind IN ('locate_ticket', 'consent', 'quote_accepted', 'discharge_plan', 'someone_home', 'parts', 'builder_notice', 'made_safe'));
ALTER TABLE locate_rule ADD CONSTRAINT locate_rule_notice_unit_word CHECK (notice_unit IN ('hour', 'business_hour', 'business_day', 'calendar_day'));
ALTER TABLE locate_rule ADD CONSTRAINT locate_rule_life_unit_word CHECK (life_unit IN ('business_day', 'calendar_day'));
ALTER TABLE locate_rule ADD CONSTRAINT locate_rule_life_from_word CHECK (life_from IN ('call', 'first_day'));
ALTER TABLE trench_check ADD CONSTRAINT trench_check_protection_word CHECK (protection IN ('none', 'sloped', 'shored', 'shielded', 'stable_rock'));
ALTER TABLE water_record ADD CONSTRAINT water_record_receiver_word CHECK (receiver IN ('own_ground', 'caught', 'sanitary_sewer', 'storm_drain', 'water_body', 'none'));
ALTER TABLE water_record ADD CONSTRAINT water_record_phase_word CHECK (phase IN ('planned', 'recorded'));
ALTER TABLE incident ADD CONSTRAINT incident_kind_word CHECK (kind IN ('injury', 'jet_injury', 'near_miss', 'utility_strike', 'gas', 'discharge', 'damage', 'flood_after_visit'));
ALTER TABLE incident ADD CONSTRAINT incident_consequence_word CHECK (consequence IN ('none', 'first_aid', 'hospital', 'amputation_or_eye', 'death'));

DO $$
DECLARE t text;
BEGIN
  FOREACH t IN ARRAY ARRAY['locate_rule', 'locate_ticket', 'trench_check', 'rain', 'water_record', 'incident'] LOOP
    EXECUTE format('CREATE TRIGGER %I BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION bump_version()', t || '_version', t);
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_insert', t);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_update', t);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_delete', t);
  END LOOP;
END $$;
