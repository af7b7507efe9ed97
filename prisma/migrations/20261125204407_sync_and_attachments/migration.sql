-- AlterTable
ALTER TABLE "access_point" ADD COLUMN     "added_by" TEXT,
ADD COLUMN     "unconfirmed" BOOLEAN NOT NULL DEFAULT false;

-- AlterTable
ALTER TABLE "conflict" ADD COLUMN     "because" TEXT;

-- AlterTable
ALTER TABLE "line" ADD COLUMN     "added_by" TEXT,
ADD COLUMN     "unconfirmed" BOOLEAN NOT NULL DEFAULT false;

-- CreateTable
CREATE TABLE "task_result" (
    "id" UUID NOT NULL,
    "task_id" UUID NOT NULL,
    "said_at" TIMESTAMPTZ(3) NOT NULL,
    "author" TEXT NOT NULL,
    "author_id" UUID NOT NULL,
    "result" TEXT NOT NULL,
    "reason" TEXT,
    "taken_minutes" INTEGER,
    "found" JSONB,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "task_result_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "note" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "line_id" UUID,
    "pit_id" UUID,
    "work_order_id" UUID,
    "text" TEXT NOT NULL,
    "noted_at" TIMESTAMPTZ(3) NOT NULL,
    "author" TEXT NOT NULL,
    "author_id" UUID NOT NULL,
    "device_clock_offset_s" INTEGER,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "note_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "attachment" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "line_id" UUID,
    "pit_id" UUID,
    "work_order_id" UUID,
    "inspection_id" UUID,
    "caption" TEXT,
    "taken_at" TIMESTAMPTZ(3) NOT NULL,
    "author" TEXT NOT NULL,
    "author_id" UUID NOT NULL,
    "for_client" BOOLEAN NOT NULL DEFAULT false,
    "device_clock_offset_s" INTEGER,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "attachment_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "stored_file" (
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "media_type" TEXT NOT NULL,
    "bytes" INTEGER NOT NULL,
    "sha256" BYTEA NOT NULL,
    "width" INTEGER,
    "height" INTEGER,
    "original_key" TEXT NOT NULL,
    "public_key" TEXT,
    "public_type" TEXT,
    "thumbnail_key" TEXT,
    "author" TEXT NOT NULL,
    "author_id" UUID NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "stored_file_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "sync_item" (
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "author" TEXT NOT NULL,
    "author_id" UUID NOT NULL,
    "key_id" UUID NOT NULL,
    "member_id" UUID,
    "roles" TEXT[],
    "happened_at" TIMESTAMPTZ(3) NOT NULL,
    "clock_offset_s" INTEGER NOT NULL,
    "work_order_id" UUID,
    "after_ids" UUID[] DEFAULT ARRAY[]::UUID[],
    "waits_for" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "fingerprint" BYTEA NOT NULL,
    "content" JSONB NOT NULL,
    "work" JSONB NOT NULL,
    "problem" JSONB,
    "settled_by" TEXT,
    "settled_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "sync_item_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "task_result_task_id_idx" ON "task_result"("task_id");

-- CreateIndex
CREATE INDEX "note_site_id_noted_at_idx" ON "note"("site_id", "noted_at");

-- CreateIndex
CREATE INDEX "attachment_site_id_taken_at_idx" ON "attachment"("site_id", "taken_at");

-- CreateIndex
CREATE INDEX "attachment_work_order_id_idx" ON "attachment"("work_order_id");

-- CreateIndex
CREATE INDEX "attachment_inspection_id_idx" ON "attachment"("inspection_id");

-- CreateIndex
CREATE INDEX "stored_file_created_at_idx" ON "stored_file"("created_at");

-- CreateIndex
CREATE INDEX "sync_item_author_id_created_at_idx" ON "sync_item"("author_id", "created_at");

-- AddForeignKey
ALTER TABLE "task_result" ADD CONSTRAINT "task_result_task_id_fkey" FOREIGN KEY ("task_id") REFERENCES "work_order_task"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_pit_id_fkey" FOREIGN KEY ("pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attachment" ADD CONSTRAINT "attachment_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attachment" ADD CONSTRAINT "attachment_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attachment" ADD CONSTRAINT "attachment_pit_id_fkey" FOREIGN KEY ("pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attachment" ADD CONSTRAINT "attachment_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attachment" ADD CONSTRAINT "attachment_inspection_id_fkey" FOREIGN KEY ("inspection_id") REFERENCES "inspection"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What has come is looked for by what it waits for.
CREATE INDEX sync_item_waiting ON sync_item USING gin (waits_for) WHERE state = 'waiting';
CREATE INDEX sync_item_open_of_order ON sync_item (work_order_id) WHERE state = 'waiting';

ALTER TABLE sync_item ADD CONSTRAINT sync_item_kind_word CHECK (kind IN ('start', 'finish', 'inspection', 'clean', 'task_result', 'found_work', 'found_line', 'found_access_point', 'price_acceptance', 'attachment', 'note'));
ALTER TABLE sync_item ADD CONSTRAINT sync_item_state_word CHECK (state IN ('waiting', 'accepted', 'refused', 'conflict', 'withdrawn'));
ALTER TABLE sync_item ADD CONSTRAINT sync_item_settled CHECK ((state = 'waiting') = (settled_at IS NULL));
ALTER TABLE task_result ADD CONSTRAINT task_result_result_word CHECK (result IN ('done', 'partly', 'not_done', 'not_needed'));
ALTER TABLE task_result ADD CONSTRAINT task_result_reason_word CHECK (reason IN ('no_one_home', 'gate', 'dog', 'snow', 'outlet_not_found', 'refused', 'unsafe', 'kit', 'water_off', 'out_of_time'));
ALTER TABLE task_result ADD CONSTRAINT task_result_minutes CHECK (taken_minutes > 0);
ALTER TABLE stored_file ADD CONSTRAINT stored_file_kind_word CHECK (kind IN ('photograph', 'clip', 'document'));
ALTER TABLE stored_file ADD CONSTRAINT stored_file_size CHECK (bytes > 0 AND width > 0 AND height > 0 AND length(sha256) = 32);
ALTER TABLE attachment ADD CONSTRAINT attachment_one_thing CHECK (line_id IS NULL OR pit_id IS NULL);
ALTER TABLE note ADD CONSTRAINT note_one_thing CHECK (line_id IS NULL OR pit_id IS NULL);

DO $$
DECLARE t text;
BEGIN
  FOREACH t IN ARRAY ARRAY['note', 'attachment', 'stored_file', 'sync_item'] LOOP
    EXECUTE format('CREATE TRIGGER %I BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION bump_version()', t || '_version', t);
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_insert', t);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_update', t);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_delete', t);
  END LOOP;
END $$;
