-- AlterTable
ALTER TABLE "stop" ADD COLUMN     "depot_id" UUID;

-- AddForeignKey
ALTER TABLE "stop" ADD CONSTRAINT "stop_depot_id_fkey" FOREIGN KEY ("depot_id") REFERENCES "depot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;


ALTER TABLE stop ADD CONSTRAINT stop_refills_at_a_depot CHECK ((kind IN ('refill', 'disposal')) = (depot_id IS NOT NULL));
