-- CreateTable
CREATE TABLE "house" (
    "id" UUID NOT NULL,
    "the_one" BOOLEAN NOT NULL DEFAULT true,
    "time_zone" TEXT NOT NULL,
    "currency" TEXT NOT NULL,
    "units" TEXT NOT NULL,
    "post_held_since" TIMESTAMPTZ(3),
    "backed_up_at" TIMESTAMPTZ(3),
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "house_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "house_the_one_key" ON "house"("the_one");

ALTER TABLE house ADD CONSTRAINT house_the_one CHECK (the_one);
ALTER TABLE access_key DROP CONSTRAINT access_key_roles_word;
ALTER TABLE access_key ADD CONSTRAINT access_key_roles_word
  CHECK (roles <@ ARRAY['dispatcher', 'technician', 'owner', 'integration', 'monitor']);
