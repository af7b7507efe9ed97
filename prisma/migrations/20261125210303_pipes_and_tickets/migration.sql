-- AlterTable
ALTER TABLE "locate_ticket" ADD COLUMN     "begin_by" DATE;

-- AlterTable
ALTER TABLE "trench_check" ADD COLUMN     "ladder_above_m" DOUBLE PRECISION,
ADD COLUMN     "slope_ratio" DOUBLE PRECISION;

-- CreateTable
CREATE TABLE "pipe_product" (
    "id" UUID NOT NULL,
    "product" TEXT NOT NULL,
    "bore_mm" JSONB NOT NULL DEFAULT '{}',
    "manning_n" DOUBLE PRECISION,
    "hazen_williams_c" DOUBLE PRECISION,
    "source" TEXT NOT NULL,
    "changed_by" TEXT NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "pipe_product_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "pipe_product_product_key" ON "pipe_product"("product");

-- CreateIndex
CREATE INDEX "inspection_conversion_version_idx" ON "inspection"("conversion_version");

-- A trench is checked before it is opened too.
ALTER TABLE "trench_check" ALTER COLUMN "depth_m" DROP NOT NULL;
ALTER TABLE trench_check ADD CONSTRAINT trench_check_more CHECK (slope_ratio >= 0 AND ladder_above_m >= 0);
ALTER TABLE pipe_product ADD CONSTRAINT pipe_product_known CHECK (product IN ('schedule_40', 'sdr_35', 'corrugated', 'clay_tile', 'concrete_tile'));
ALTER TABLE pipe_product ADD CONSTRAINT pipe_product_range CHECK (manning_n > 0 AND hazen_williams_c > 0);

CREATE TRIGGER pipe_product_version BEFORE UPDATE ON pipe_product FOR EACH ROW EXECUTE FUNCTION bump_version();
CREATE TRIGGER pipe_product_log_insert AFTER INSERT ON pipe_product REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change();
CREATE TRIGGER pipe_product_log_update AFTER UPDATE ON pipe_product REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change();
CREATE TRIGGER pipe_product_log_delete AFTER DELETE ON pipe_product REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change();
