-- AlterTable
ALTER TABLE "route_change" ALTER COLUMN "made_at" SET DEFAULT CURRENT_TIMESTAMP,
ALTER COLUMN "made_by" SET DEFAULT COALESCE(NULLIF(current_setting('app.actor'::text, true), ''::text), 'unknown'::text);
