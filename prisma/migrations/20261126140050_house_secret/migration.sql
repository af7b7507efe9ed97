-- CreateTable
CREATE TABLE "house_secret" (
    "name" TEXT NOT NULL,
    "value" BYTEA NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "house_secret_pkey" PRIMARY KEY ("name")
);
