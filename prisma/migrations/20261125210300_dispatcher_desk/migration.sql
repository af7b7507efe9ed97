-- AlterTable
ALTER TABLE "client" ADD COLUMN     "merged_at" TIMESTAMPTZ(3),
ADD COLUMN     "merged_because" TEXT,
ADD COLUMN     "merged_by" TEXT,
ADD COLUMN     "merged_into_id" UUID;

-- AlterTable
ALTER TABLE "promise" ADD COLUMN     "told_by" TEXT NOT NULL DEFAULT COALESCE(NULLIF(current_setting('app.actor'::text, true), ''::text), 'unknown'::text),
ADD COLUMN     "told_how" TEXT NOT NULL DEFAULT 'unknown';

-- AlterTable
ALTER TABLE "route" ADD COLUMN     "closed_by" TEXT,
ADD COLUMN     "not_done" JSONB NOT NULL DEFAULT '[]';

-- AlterTable
ALTER TABLE "work_order" ADD COLUMN     "question" JSONB;

-- CreateTable
CREATE TABLE "route_publication" (
    "id" UUID NOT NULL,
    "crew_id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "published_at" TIMESTAMPTZ(3) NOT NULL,
    "published_by" TEXT NOT NULL,
    "times" INTEGER NOT NULL DEFAULT 1,
    "stops" JSONB NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "route_publication_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "route_change" (
    "id" UUID NOT NULL,
    "publication_id" UUID NOT NULL,
    "made_at" TIMESTAMPTZ(3) NOT NULL,
    "made_by" TEXT NOT NULL,
    "because" TEXT NOT NULL,
    "changes" JSONB NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "route_change_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "phone_call" (
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "received_at" TIMESTAMPTZ(3) NOT NULL,
    "taken_by" TEXT NOT NULL,
    "caller_name" TEXT,
    "caller_phone" TEXT,
    "client_id" UUID,
    "site_id" UUID NOT NULL,
    "work_order_id" UUID,
    "what" TEXT,
    "answers" JSONB NOT NULL DEFAULT '{}',
    "urgency" TEXT NOT NULL,
    "respond_by" TIMESTAMPTZ(3) NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "phone_call_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "on_call_turn" (
    "id" UUID NOT NULL,
    "member_id" UUID NOT NULL,
    "from_at" TIMESTAMPTZ(3) NOT NULL,
    "to_at" TIMESTAMPTZ(3) NOT NULL,
    "turn" INTEGER NOT NULL DEFAULT 1,
    "note" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "on_call_turn_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "call_out" (
    "id" UUID NOT NULL,
    "member_id" UUID NOT NULL,
    "work_order_id" UUID,
    "called_at" TIMESTAMPTZ(3) NOT NULL,
    "back_at" TIMESTAMPTZ(3),
    "note" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "call_out_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "route_publication_day_idx" ON "route_publication"("day");

-- CreateIndex
CREATE UNIQUE INDEX "route_publication_crew_id_day_key" ON "route_publication"("crew_id", "day");

-- CreateIndex
CREATE INDEX "route_change_publication_id_made_at_idx" ON "route_change"("publication_id", "made_at");

-- CreateIndex
CREATE INDEX "phone_call_received_at_idx" ON "phone_call"("received_at");

-- CreateIndex
CREATE INDEX "phone_call_site_id_idx" ON "phone_call"("site_id");

-- CreateIndex
CREATE INDEX "phone_call_client_id_idx" ON "phone_call"("client_id");

-- CreateIndex
CREATE INDEX "phone_call_work_order_id_idx" ON "phone_call"("work_order_id");

-- CreateIndex
CREATE INDEX "on_call_turn_from_at_idx" ON "on_call_turn"("from_at");

-- CreateIndex
CREATE INDEX "on_call_turn_member_id_idx" ON "on_call_turn"("member_id");

-- CreateIndex
CREATE INDEX "call_out_called_at_idx" ON "call_out"("called_at");

-- CreateIndex
CREATE INDEX "call_out_member_id_idx" ON "call_out"("member_id");

-- CreateIndex
CREATE INDEX "call_out_work_order_id_idx" ON "call_out"("work_order_id");

-- CreateIndex
CREATE INDEX "client_merged_into_id_idx" ON "client"("merged_into_id");

-- AddForeignKey
ALTER TABLE "client" ADD CONSTRAINT "client_merged_into_id_fkey" FOREIGN KEY ("merged_into_id") REFERENCES "client"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "route_publication" ADD CONSTRAINT "route_publication_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "route_change" ADD CONSTRAINT "route_change_publication_id_fkey" FOREIGN KEY ("publication_id") REFERENCES "route_publication"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "phone_call" ADD CONSTRAINT "phone_call_client_id_fkey" FOREIGN KEY ("client_id") REFERENCES "client"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "phone_call" ADD CONSTRAINT "phone_call_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "phone_call" ADD CONSTRAINT "phone_call_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "on_call_turn" ADD CONSTRAINT "on_call_turn_member_id_fkey" FOREIGN KEY ("member_id") REFERENCES "member"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "call_out" ADD CONSTRAINT "call_out_member_id_fkey" FOREIGN KEY ("member_id") REFERENCES "member"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "call_out" ADD CONSTRAINT "call_out_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What Prisma cannot say. ---------------------------------------------------------------------------

ALTER TABLE client ADD CONSTRAINT client_merged CHECK (
  (merged_into_id IS NULL) = (merged_at IS NULL) AND merged_into_id <> id AND (merged_into_id IS NULL OR archived_on IS NOT NULL));
ALTER TABLE promise ADD CONSTRAINT promise_told_how_word CHECK (told_how IN ('phone', 'text_message', 'email', 'in_person', 'letter', 'unknown'));
ALTER TABLE phone_call ADD CONSTRAINT phone_call_kind_word CHECK (kind IN ('water_rising', 'alarm', 'pump_without_flow', 'power_out', 'orange_stain', 'other'));
ALTER TABLE phone_call ADD CONSTRAINT phone_call_urgency_word CHECK (urgency IN ('at_once', 'today', 'in_days'));
ALTER TABLE on_call_turn ADD CONSTRAINT on_call_turn_times CHECK (from_at < to_at AND turn BETWEEN 1 AND 9);
ALTER TABLE on_call_turn ADD CONSTRAINT on_call_turn_once EXCLUDE USING gist (member_id WITH =, tstzrange(from_at, to_at) WITH &&);
ALTER TABLE call_out ADD CONSTRAINT call_out_times CHECK (called_at <= back_at);
CREATE UNIQUE INDEX call_out_one_open ON call_out (member_id) WHERE back_at IS NULL;

-- Search by parts of words, with slips of the pen, and by phone numbers however they are written.
CREATE EXTENSION IF NOT EXISTS pg_trgm;
CREATE INDEX client_words ON client USING gin (lower(name || ' ' || coalesce(email, '')) gin_trgm_ops);
CREATE INDEX client_phone_digits ON client USING gin (regexp_replace(coalesce(phone, ''), '\D', '', 'g') gin_trgm_ops);
CREATE INDEX contact_words ON contact USING gin (lower(name || ' ' || coalesce(email, '')) gin_trgm_ops);
CREATE INDEX contact_phone_digits ON contact USING gin (regexp_replace(coalesce(phone, ''), '\D', '', 'g') gin_trgm_ops);
CREATE INDEX site_words ON site USING gin (lower(address || ' ' || town || ' ' || coalesce(postal_code, '')) gin_trgm_ops);
CREATE INDEX site_point ON site USING gist (point(longitude, latitude)) WHERE latitude IS NOT NULL;
CREATE INDEX site_off_map ON site (id) WHERE latitude IS NULL AND archived_on IS NULL;

DO $$
DECLARE t text;
BEGIN
  FOREACH t IN ARRAY ARRAY['route_publication', 'route_change', 'phone_call', 'on_call_turn', 'call_out'] LOOP
    EXECUTE format('CREATE TRIGGER %I BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION bump_version()', t || '_version', t);
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_insert', t);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_update', t);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_delete', t);
  END LOOP;
END $$;
