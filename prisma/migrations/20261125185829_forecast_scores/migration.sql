-- AlterTable
ALTER TABLE "trend_history" ADD COLUMN     "action_chances" DOUBLE PRECISION[] DEFAULT ARRAY[]::DOUBLE PRECISION[];

-- CreateTable
CREATE TABLE "forecast_score" (
    "line_id" UUID NOT NULL,
    "forecast_of" DATE NOT NULL,
    "inspection_id" UUID NOT NULL,
    "found_on" DATE NOT NULL,
    "readings_used" INTEGER NOT NULL,
    "method" TEXT,
    "crew_id" UUID,
    "expected" DOUBLE PRECISION NOT NULL,
    "passed" DOUBLE PRECISION NOT NULL,
    "residual" DOUBLE PRECISION,
    "engine_version" TEXT NOT NULL,
    "judged_on" DATE NOT NULL,

    CONSTRAINT "forecast_score_pkey" PRIMARY KEY ("line_id","forecast_of")
);

-- CreateTable
CREATE TABLE "night_calibration" (
    "as_of" DATE NOT NULL,
    "report" JSONB NOT NULL,

    CONSTRAINT "night_calibration_pkey" PRIMARY KEY ("as_of")
);

-- CreateIndex
CREATE UNIQUE INDEX "forecast_score_inspection_id_key" ON "forecast_score"("inspection_id");

-- CreateIndex
CREATE INDEX "forecast_score_found_on_idx" ON "forecast_score"("found_on");
