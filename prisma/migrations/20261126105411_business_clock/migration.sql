-- The business's time, as its transaction says it (app.now); else the database's.
CREATE FUNCTION business_now() RETURNS timestamptz LANGUAGE sql STABLE AS
  $$ SELECT coalesce(nullif(current_setting('app.now', true), '')::timestamptz, now()) $$;

-- AlterTable
ALTER TABLE "change_log" ALTER COLUMN "at" SET DEFAULT business_now();

-- AlterTable
ALTER TABLE "conflict" ALTER COLUMN "created_at" SET DEFAULT business_now();

-- AlterTable
ALTER TABLE "disruption" ALTER COLUMN "created_at" SET DEFAULT business_now();

-- AlterTable
ALTER TABLE "event" ALTER COLUMN "created_at" SET DEFAULT business_now();

-- AlterTable
ALTER TABLE "promise" ALTER COLUMN "told_at" SET DEFAULT business_now();

-- AlterTable
ALTER TABLE "webhook_endpoint" ALTER COLUMN "created_at" SET DEFAULT business_now();

