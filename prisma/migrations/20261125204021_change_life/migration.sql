-- CreateTable
CREATE TABLE "change_life" (
    "id" UUID NOT NULL,
    "began_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "change_life_pkey" PRIMARY KEY ("id")
);

-- The first life of the log.
INSERT INTO "change_life" ("id") VALUES (gen_random_uuid());
