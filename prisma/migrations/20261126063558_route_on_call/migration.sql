-- DropIndex
DROP INDEX "route_publication_crew_id_day_key";

-- AlterTable
ALTER TABLE "route" ADD COLUMN     "on_call" BOOLEAN NOT NULL DEFAULT false;

-- AlterTable
ALTER TABLE "route_publication" ADD COLUMN     "on_call" BOOLEAN NOT NULL DEFAULT false;

-- CreateIndex
CREATE UNIQUE INDEX "route_publication_crew_id_day_on_call_key" ON "route_publication"("crew_id", "day", "on_call");

-- One live route of the shift a crew and day; one out of it that is not closed.
DROP INDEX route_one_live_per_crew_and_day;
CREATE UNIQUE INDEX route_one_live_per_crew_and_day ON route (crew_id, day) WHERE state = 'live' AND NOT on_call;
CREATE UNIQUE INDEX route_one_open_on_call ON route (crew_id, day) WHERE state = 'live' AND on_call AND closed_at IS NULL;
