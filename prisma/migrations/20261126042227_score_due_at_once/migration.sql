-- AlterTable
ALTER TABLE "forecast_score" ADD COLUMN     "due_at_once" BOOLEAN NOT NULL DEFAULT false;

-- Scores already given: the chance by tomorrow lies a seventh of the way from that of today to that of a week.
UPDATE "forecast_score" s SET "due_at_once" = true
  FROM "trend_history" h
 WHERE h."line_id" = s."line_id" AND h."as_of" = s."forecast_of" AND s."found_on" - s."forecast_of" <= 30
   AND h."action_chances"[1] + (h."action_chances"[2] - h."action_chances"[1]) / 7 >= 0.1;
