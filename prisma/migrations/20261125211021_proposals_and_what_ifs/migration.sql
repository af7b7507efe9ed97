-- CreateTable
CREATE TABLE "proposal" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "line_id" UUID,
    "pit_id" UUID,
    "kind" TEXT NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'drafted',
    "evidence" JSONB NOT NULL DEFAULT '[]',
    "visits_saved_per_year" DOUBLE PRECISION,
    "price_minor" INTEGER,
    "offered_on" DATE,
    "offered_by" TEXT,
    "answered_on" DATE,
    "answered_by" TEXT,
    "answer_because" TEXT,
    "note" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "proposal_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "what_if" (
    "id" UUID NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "asked" JSONB NOT NULL,
    "seed" INTEGER NOT NULL,
    "runs" INTEGER NOT NULL,
    "weeks" INTEGER NOT NULL,
    "progress" DOUBLE PRECISION NOT NULL DEFAULT 0,
    "answer" JSONB,
    "asked_by" TEXT NOT NULL,
    "failed_because" TEXT,
    "finished_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "what_if_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "proposal_site_id_idx" ON "proposal"("site_id");

-- CreateIndex
CREATE INDEX "proposal_line_id_idx" ON "proposal"("line_id");

-- CreateIndex
CREATE INDEX "proposal_pit_id_idx" ON "proposal"("pit_id");

-- CreateIndex
CREATE INDEX "what_if_state_idx" ON "what_if"("state");

-- AddForeignKey
ALTER TABLE "proposal" ADD CONSTRAINT "proposal_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "proposal" ADD CONSTRAINT "proposal_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "proposal" ADD CONSTRAINT "proposal_pit_id_fkey" FOREIGN KEY ("pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What Prisma cannot say. ---------------------------------------------------------------------------

ALTER TABLE proposal ADD CONSTRAINT proposal_kind_word CHECK (kind IN ('cleanout', 'smooth_pipe', 'alarm', 'second_pump'));
ALTER TABLE proposal ADD CONSTRAINT proposal_state_word CHECK (state IN ('drafted', 'offered', 'accepted', 'declined', 'withdrawn'));
ALTER TABLE proposal ADD CONSTRAINT proposal_subject CHECK (
  (kind IN ('cleanout', 'smooth_pipe') AND line_id IS NOT NULL AND pit_id IS NULL) OR (kind IN ('alarm', 'second_pump') AND pit_id IS NOT NULL AND line_id IS NULL));
ALTER TABLE proposal ADD CONSTRAINT proposal_life CHECK (
  (state NOT IN ('offered', 'accepted', 'declined') OR (offered_on IS NOT NULL AND offered_by IS NOT NULL))
  AND ((state IN ('accepted', 'declined')) = (answered_on IS NOT NULL AND answered_by IS NOT NULL)) AND offered_on <= answered_on);
ALTER TABLE proposal ADD CONSTRAINT proposal_range CHECK (visits_saved_per_year >= 0 AND price_minor >= 0);
CREATE UNIQUE INDEX proposal_one_open ON proposal (coalesce(line_id, pit_id), kind) WHERE state IN ('drafted', 'offered');

ALTER TABLE what_if ADD CONSTRAINT what_if_state_word CHECK (state IN ('waiting', 'running', 'done', 'failed'));
ALTER TABLE what_if ADD CONSTRAINT what_if_range CHECK (runs >= 1 AND weeks >= 1 AND progress BETWEEN 0 AND 1);

CREATE TRIGGER what_if_version BEFORE UPDATE ON what_if FOR EACH ROW EXECUTE FUNCTION bump_version();
CREATE TRIGGER proposal_version BEFORE UPDATE ON proposal FOR EACH ROW EXECUTE FUNCTION bump_version();
CREATE TRIGGER proposal_log_insert AFTER INSERT ON proposal REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change();
CREATE TRIGGER proposal_log_update AFTER UPDATE ON proposal REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change();
CREATE TRIGGER proposal_log_delete AFTER DELETE ON proposal REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change();
