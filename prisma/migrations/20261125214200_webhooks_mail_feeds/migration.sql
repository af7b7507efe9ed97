-- AlterTable
ALTER TABLE "contact" ADD COLUMN     "no_mail" BOOLEAN NOT NULL DEFAULT false;

-- CreateTable
CREATE TABLE "webhook_endpoint" (
    "id" UUID NOT NULL,
    "url" TEXT NOT NULL,
    "note" TEXT,
    "event_types" TEXT[],
    "secret" BYTEA NOT NULL,
    "old_secret" BYTEA,
    "old_secret_until" TIMESTAMPTZ(3),
    "failing_since" TIMESTAMPTZ(3),
    "disabled_at" TIMESTAMPTZ(3),
    "disabled_because" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "webhook_endpoint_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "webhook_delivery" (
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "endpoint_id" UUID NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "tries" INTEGER NOT NULL DEFAULT 0,
    "next_try_at" TIMESTAMPTZ(3) DEFAULT CURRENT_TIMESTAMP,
    "lease_until" TIMESTAMPTZ(3),
    "last_tried_at" TIMESTAMPTZ(3),
    "last_status" INTEGER,
    "last_error" TEXT,
    "delivered_at" TIMESTAMPTZ(3),
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "webhook_delivery_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "mail" (
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "contact_id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "tries" INTEGER NOT NULL DEFAULT 0,
    "next_try_at" TIMESTAMPTZ(3) DEFAULT CURRENT_TIMESTAMP,
    "lease_until" TIMESTAMPTZ(3),
    "last_tried_at" TIMESTAMPTZ(3),
    "last_error" TEXT,
    "message_id" TEXT,
    "sent_at" TIMESTAMPTZ(3),
    "dropped_because" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "mail_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "unsubscribe_link" (
    "hash" BYTEA NOT NULL,
    "contact_id" UUID NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "unsubscribe_link_pkey" PRIMARY KEY ("hash")
);

-- CreateTable
CREATE TABLE "feed" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "crew_id" UUID,
    "site_id" UUID,
    "hash" BYTEA NOT NULL,
    "revoked_at" TIMESTAMPTZ(3),
    "last_used_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "feed_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "calendar_entry" (
    "owner_id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "sequence" INTEGER NOT NULL DEFAULT 0,
    "state" TEXT NOT NULL,
    "starts" TEXT NOT NULL,
    "ends" TEXT NOT NULL,
    "summary" TEXT NOT NULL,
    "description" TEXT NOT NULL DEFAULT '',
    "location" TEXT,
    "changed_at" TIMESTAMPTZ(3) NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "calendar_entry_pkey" PRIMARY KEY ("owner_id","work_order_id")
);

-- CreateIndex
CREATE INDEX "webhook_delivery_endpoint_id_created_at_idx" ON "webhook_delivery"("endpoint_id", "created_at");

-- CreateIndex
CREATE UNIQUE INDEX "webhook_delivery_event_id_endpoint_id_key" ON "webhook_delivery"("event_id", "endpoint_id");

-- CreateIndex
CREATE INDEX "mail_contact_id_idx" ON "mail"("contact_id");

-- CreateIndex
CREATE INDEX "mail_created_at_idx" ON "mail"("created_at");

-- CreateIndex
CREATE UNIQUE INDEX "mail_event_id_contact_id_key" ON "mail"("event_id", "contact_id");

-- CreateIndex
CREATE INDEX "unsubscribe_link_contact_id_idx" ON "unsubscribe_link"("contact_id");

-- CreateIndex
CREATE UNIQUE INDEX "feed_hash_key" ON "feed"("hash");

-- CreateIndex
CREATE INDEX "feed_crew_id_idx" ON "feed"("crew_id");

-- CreateIndex
CREATE INDEX "feed_site_id_idx" ON "feed"("site_id");

-- CreateIndex
CREATE INDEX "calendar_entry_work_order_id_idx" ON "calendar_entry"("work_order_id");

-- AddForeignKey
ALTER TABLE "webhook_delivery" ADD CONSTRAINT "webhook_delivery_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "event"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "webhook_delivery" ADD CONSTRAINT "webhook_delivery_endpoint_id_fkey" FOREIGN KEY ("endpoint_id") REFERENCES "webhook_endpoint"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "mail" ADD CONSTRAINT "mail_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "event"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "mail" ADD CONSTRAINT "mail_contact_id_fkey" FOREIGN KEY ("contact_id") REFERENCES "contact"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "unsubscribe_link" ADD CONSTRAINT "unsubscribe_link_contact_id_fkey" FOREIGN KEY ("contact_id") REFERENCES "contact"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "feed" ADD CONSTRAINT "feed_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "feed" ADD CONSTRAINT "feed_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "calendar_entry" ADD CONSTRAINT "calendar_entry_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What Prisma cannot say. ---------------------------------------------------------------------------

ALTER TABLE webhook_endpoint ADD CONSTRAINT webhook_endpoint_event_types_word CHECK (event_types <@ ARRAY['reminder_due', 'on_the_way', 'running_late', 'work_finished', 'work_found', 'order_tried_in_vain', 'order_follows_no_more', 'consent_unanswered', 'route_published', 'route_changed', 'line_plugged', 'line_past_limit', 'locate_ticket_ends', 'incident', 'night_failed', 'model_off', 'mail_not_sent', 'webhook_disabled', 'webhook_test']);
ALTER TABLE webhook_endpoint ADD CONSTRAINT webhook_endpoint_secret CHECK (length(secret) BETWEEN 24 AND 64 AND (old_secret IS NULL) = (old_secret_until IS NULL));
ALTER TABLE webhook_delivery ADD CONSTRAINT webhook_delivery_state_word CHECK (state IN ('waiting', 'delivered', 'failed'));
CREATE INDEX webhook_delivery_due ON webhook_delivery (next_try_at) WHERE state = 'waiting';
ALTER TABLE mail ADD CONSTRAINT mail_kind_word CHECK (kind IN ('reminder', 'on_the_way', 'running_late', 'done'));
ALTER TABLE mail ADD CONSTRAINT mail_state_word CHECK (state IN ('waiting', 'sending', 'sent', 'uncertain', 'dropped', 'failed'));
CREATE INDEX mail_due ON mail (next_try_at) WHERE state = 'waiting';
CREATE INDEX mail_sending ON mail (lease_until) WHERE state = 'sending';
ALTER TABLE feed ADD CONSTRAINT feed_of_one_thing CHECK ((crew_id IS NULL) <> (site_id IS NULL));
ALTER TABLE calendar_entry ADD CONSTRAINT calendar_entry_state_word CHECK (state IN ('confirmed', 'tentative', 'cancelled'));

DO $$
DECLARE t text;
BEGIN
  FOREACH t IN ARRAY ARRAY['webhook_endpoint', 'feed'] LOOP
    EXECUTE format('CREATE TRIGGER %I BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION bump_version()', t || '_version', t);
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_insert', t);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_update', t);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_delete', t);
  END LOOP;
END $$;
