-- CreateTable
CREATE TABLE "client" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "phone" TEXT,
    "email" TEXT,
    "language" TEXT NOT NULL DEFAULT 'en',
    "note" TEXT,
    "source" TEXT,
    "external_ref" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "client_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "contact" (
    "id" UUID NOT NULL,
    "client_id" UUID,
    "site_id" UUID,
    "name" TEXT NOT NULL,
    "role" TEXT NOT NULL DEFAULT 'occupant',
    "phone" TEXT,
    "email" TEXT,
    "language" TEXT NOT NULL DEFAULT 'en',
    "may_consent_to" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "opt_out" BOOLEAN NOT NULL DEFAULT false,
    "note" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "contact_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "site" (
    "id" UUID NOT NULL,
    "address" TEXT NOT NULL,
    "town" TEXT NOT NULL,
    "area" TEXT NOT NULL,
    "postal_code" TEXT,
    "latitude" DOUBLE PRECISION,
    "longitude" DOUBLE PRECISION,
    "access" TEXT NOT NULL DEFAULT 'anytime',
    "access_notes" TEXT,
    "hours" JSONB NOT NULL DEFAULT '[]',
    "basement" TEXT NOT NULL DEFAULT 'unknown',
    "tap" TEXT NOT NULL DEFAULT 'unknown',
    "ferrous_iron_mg_l" DOUBLE PRECISION,
    "builder" TEXT,
    "built_on" DATE,
    "early_visits_ok" BOOLEAN NOT NULL DEFAULT false,
    "note" TEXT,
    "source" TEXT,
    "external_ref" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "site_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "site_client" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "client_id" UUID NOT NULL,
    "from_day" DATE,
    "to_day" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "site_client_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "care_terms" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "line_ids" UUID[] DEFAULT ARRAY[]::UUID[],
    "interval_days" INTEGER,
    "visits_per_year" INTEGER,
    "price_minor" INTEGER,
    "early_visits_per_year" INTEGER NOT NULL DEFAULT 0,
    "early_price_cap_minor" INTEGER,
    "from_day" DATE NOT NULL,
    "to_day" DATE,
    "note" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "care_terms_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "system" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "kind" TEXT NOT NULL,
    "assumed" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "system_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "pit" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "place" TEXT,
    "diameter_mm" DOUBLE PRECISION,
    "depth_mm" DOUBLE PRECISION,
    "inflow_lps" DOUBLE PRECISION,
    "discharge_line_id" UUID,
    "enterable" BOOLEAN NOT NULL DEFAULT false,
    "due_on" DATE,
    "last_tested_on" DATE,
    "assumed" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "pit_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "pump" (
    "id" UUID NOT NULL,
    "pit_id" UUID NOT NULL,
    "duty" TEXT NOT NULL DEFAULT 'main',
    "power_w" DOUBLE PRECISION,
    "curve" JSONB,
    "float_on_mm" DOUBLE PRECISION,
    "float_off_mm" DOUBLE PRECISION,
    "check_valve" BOOLEAN,
    "alarm" BOOLEAN,
    "installed_on" DATE,
    "removed_on" DATE,
    "note" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "pump_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "line" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "kind" TEXT NOT NULL,
    "drains_to" TEXT NOT NULL DEFAULT 'outlet',
    "drains_to_pit_id" UUID,
    "drains_to_line_id" UUID,
    "outlet" TEXT NOT NULL DEFAULT 'unknown',
    "outlet_state" TEXT,
    "outlet_owner" TEXT,
    "receiving_water" TEXT,
    "discharge_permit_ref" TEXT,
    "length_m" DOUBLE PRECISION,
    "lift_m" DOUBLE PRECISION,
    "installed_on" DATE,
    "ferrous_iron_mg_l" DOUBLE PRECISION,
    "perforated" BOOLEAN,
    "wrapped" BOOLEAN,
    "slots_blocked" BOOLEAN NOT NULL DEFAULT false,
    "under_slab" BOOLEAN NOT NULL DEFAULT false,
    "stays_wet" BOOLEAN,
    "deposit" TEXT NOT NULL DEFAULT 'unknown',
    "action_limit" DOUBLE PRECISION,
    "plug_limit" DOUBLE PRECISION,
    "main_material" TEXT NOT NULL DEFAULT 'unknown',
    "main_bore_mm" DOUBLE PRECISION,
    "assumed" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "note" TEXT,
    "source" TEXT,
    "external_ref" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "line_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "line_section" (
    "id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "from_m" DOUBLE PRECISION,
    "to_m" DOUBLE PRECISION,
    "material" TEXT NOT NULL DEFAULT 'unknown',
    "bore_mm" DOUBLE PRECISION,
    "product" TEXT,
    "nominal" TEXT,
    "condition" TEXT NOT NULL DEFAULT 'unknown',
    "slope" DOUBLE PRECISION,
    "installed_on" DATE,
    "removed_on" DATE,
    "assumed" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "line_section_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "access_point" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "line_id" UUID,
    "pit_id" UUID,
    "kind" TEXT NOT NULL,
    "place" TEXT NOT NULL,
    "distance_m" DOUBLE PRECISION,
    "distance_from" TEXT,
    "kit_can_enter" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "direction" TEXT NOT NULL DEFAULT 'both',
    "note" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "access_point_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "epoch" (
    "id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "started_on" DATE NOT NULL,
    "begins" TEXT NOT NULL,
    "because" TEXT NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "epoch_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "regime_change" (
    "id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "changed_on" DATE NOT NULL,
    "cause" TEXT NOT NULL,
    "note" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "regime_change_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "inspection" (
    "id" UUID NOT NULL,
    "line_id" UUID,
    "pit_id" UUID,
    "observed_at" TIMESTAMPTZ(3) NOT NULL,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "device_clock_offset_s" INTEGER,
    "author" TEXT NOT NULL,
    "crew_id" UUID,
    "work_order_id" UUID,
    "phase" TEXT NOT NULL,
    "method" TEXT,
    "raw" JSONB NOT NULL,
    "conversion_version" INTEGER NOT NULL,
    "occlusion" DOUBLE PRECISION,
    "standard_error" DOUBLE PRECISION,
    "bound" TEXT NOT NULL DEFAULT 'exact',
    "plugged" BOOLEAN NOT NULL DEFAULT false,
    "plug_cause" TEXT,
    "deposit" TEXT NOT NULL DEFAULT 'unknown',
    "outlet_state" TEXT,
    "place" TEXT,
    "distance_m" DOUBLE PRECISION,
    "notes" JSONB NOT NULL DEFAULT '[]',
    "note" TEXT,
    "source" TEXT,
    "replaces_id" UUID,
    "replaced_at" TIMESTAMPTZ(3),
    "withdrawn_at" TIMESTAMPTZ(3),
    "withdrawn_because" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "inspection_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "clean" (
    "id" UUID NOT NULL,
    "line_id" UUID,
    "pit_id" UUID,
    "cleaned_at" TIMESTAMPTZ(3) NOT NULL,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "author" TEXT NOT NULL,
    "crew_id" UUID,
    "work_order_id" UUID,
    "task" TEXT,
    "flow_proven" TEXT,
    "came_back" TEXT,
    "passes" INTEGER,
    "nozzle_stopped_m" DOUBLE PRECISION,
    "water_l" DOUBLE PRECISION,
    "water_went_to" TEXT,
    "inferred" BOOLEAN NOT NULL DEFAULT false,
    "note" TEXT,
    "source" TEXT,
    "withdrawn_at" TIMESTAMPTZ(3),
    "withdrawn_because" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "clean_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "reading_review" (
    "inspection_id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "weight" DOUBLE PRECISION NOT NULL,
    "suspicion" TEXT NOT NULL,
    "verdict" TEXT NOT NULL DEFAULT 'open',
    "decided_by" TEXT,
    "decided_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "reading_review_pkey" PRIMARY KEY ("inspection_id")
);

-- CreateTable
CREATE TABLE "fit" (
    "id" UUID NOT NULL,
    "as_of" DATE NOT NULL,
    "kind" TEXT NOT NULL,
    "engine_version" TEXT NOT NULL,
    "parameters" JSONB NOT NULL,
    "lines" INTEGER NOT NULL,
    "readings" INTEGER NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "fit_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "line_state" (
    "line_id" UUID NOT NULL,
    "fit_id" UUID NOT NULL,
    "evidence_hash" TEXT NOT NULL,
    "state" BYTEA NOT NULL,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "line_state_pkey" PRIMARY KEY ("line_id")
);

-- CreateTable
CREATE TABLE "trend" (
    "line_id" UUID NOT NULL,
    "epoch_id" UUID,
    "as_of" DATE NOT NULL,
    "fit_id" UUID NOT NULL,
    "engine_version" TEXT NOT NULL,
    "evidence_hash" TEXT NOT NULL,
    "occlusion" DOUBLE PRECISION NOT NULL,
    "occlusion_sd" DOUBLE PRECISION NOT NULL,
    "occlusion_q10" DOUBLE PRECISION NOT NULL,
    "occlusion_q90" DOUBLE PRECISION NOT NULL,
    "rate_per_month" DOUBLE PRECISION NOT NULL,
    "rate_q10" DOUBLE PRECISION NOT NULL,
    "rate_q90" DOUBLE PRECISION NOT NULL,
    "action_limit" DOUBLE PRECISION NOT NULL,
    "plug_limit" DOUBLE PRECISION NOT NULL,
    "action_q10_on" DATE,
    "action_q50_on" DATE,
    "action_q90_on" DATE,
    "plug_q10_on" DATE,
    "plug_q50_on" DATE,
    "plug_q90_on" DATE,
    "action_chance_30d" DOUBLE PRECISION NOT NULL,
    "action_chance_due" DOUBLE PRECISION NOT NULL,
    "plug_chance_due" DOUBLE PRECISION NOT NULL,
    "plug_chance_year" DOUBLE PRECISION NOT NULL,
    "readings_used" INTEGER NOT NULL,
    "last_evidence_at" TIMESTAMPTZ(3),
    "components" JSONB NOT NULL,
    "due_on" DATE,
    "due_rule" TEXT,
    "due_reasons" JSONB NOT NULL DEFAULT '[]',
    "due_set_on" DATE,
    "interval_days" INTEGER,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "trend_pkey" PRIMARY KEY ("line_id")
);

-- CreateTable
CREATE TABLE "work_order" (
    "id" UUID NOT NULL,
    "number" SERIAL NOT NULL,
    "site_id" UUID NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'wanted',
    "cause" TEXT NOT NULL,
    "not_before" DATE,
    "wanted_by" DATE,
    "respond_by" TIMESTAMPTZ(3),
    "kit" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "people" INTEGER NOT NULL DEFAULT 1,
    "minutes" INTEGER NOT NULL,
    "water_l" DOUBLE PRECISION NOT NULL DEFAULT 0,
    "sludge_l" DOUBLE PRECISION NOT NULL DEFAULT 0,
    "because_of" JSONB NOT NULL DEFAULT '[]',
    "price_basis" TEXT NOT NULL DEFAULT 'care_terms',
    "price_minor" INTEGER,
    "follows_id" UUID,
    "follows_after_days" INTEGER NOT NULL DEFAULT 0,
    "returns_for_id" UUID,
    "note" TEXT,
    "withdrawn_because" TEXT,
    "started_at" TIMESTAMPTZ(3),
    "done_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "work_order_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "work_order_task" (
    "id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,
    "kind" TEXT NOT NULL,
    "line_id" UUID,
    "pit_id" UUID,
    "minutes" INTEGER NOT NULL,
    "plan" JSONB NOT NULL DEFAULT '{}',
    "result" TEXT,
    "reason" TEXT,
    "unconfirmed" BOOLEAN NOT NULL DEFAULT false,
    "open" BOOLEAN NOT NULL DEFAULT true,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "work_order_task_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "precondition" (
    "id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'open',
    "facts" JSONB NOT NULL DEFAULT '{}',
    "valid_from" DATE,
    "valid_to" DATE,
    "met_at" TIMESTAMPTZ(3),
    "met_by" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "precondition_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "promise" (
    "id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "from_time" TEXT,
    "to_time" TEXT,
    "told_to" TEXT,
    "told_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "ended_at" TIMESTAMPTZ(3),
    "ended_because" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "promise_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "decision" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "line_ids" UUID[] DEFAULT ARRAY[]::UUID[],
    "task" TEXT,
    "kind" TEXT NOT NULL,
    "decided_by" TEXT NOT NULL,
    "decided_on" DATE NOT NULL,
    "risk_told" TEXT NOT NULL,
    "until_day" DATE,
    "ended_on" DATE,
    "note" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "decision_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "depot" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "latitude" DOUBLE PRECISION NOT NULL,
    "longitude" DOUBLE PRECISION NOT NULL,
    "water" BOOLEAN NOT NULL DEFAULT true,
    "disposal" BOOLEAN NOT NULL DEFAULT true,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "depot_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "crew" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "depot_id" UUID NOT NULL,
    "end_depot_id" UUID,
    "people" INTEGER NOT NULL DEFAULT 2,
    "cost_per_hour_minor" INTEGER,
    "source" TEXT,
    "external_ref" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "crew_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "member" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "phone" TEXT,
    "email" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "member_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "crew_membership" (
    "id" UUID NOT NULL,
    "crew_id" UUID NOT NULL,
    "member_id" UUID NOT NULL,
    "from_day" DATE NOT NULL,
    "to_day" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "crew_membership_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "kit_item" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "kind" TEXT NOT NULL,
    "depot_id" UUID,
    "reach_m" DOUBLE PRECISION,
    "pressure_kpa" DOUBLE PRECISION,
    "flow_lps" DOUBLE PRECISION,
    "tank_l" DOUBLE PRECISION,
    "waste_l" DOUBLE PRECISION,
    "bore_min_mm" DOUBLE PRECISION,
    "bore_max_mm" DOUBLE PRECISION,
    "source" TEXT,
    "external_ref" TEXT,
    "archived_on" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "kit_item_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "crew_kit" (
    "id" UUID NOT NULL,
    "crew_id" UUID NOT NULL,
    "kit_item_id" UUID NOT NULL,
    "from_day" DATE NOT NULL,
    "to_day" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "crew_kit_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "shift" (
    "id" UUID NOT NULL,
    "crew_id" UUID NOT NULL,
    "weekday" TEXT NOT NULL,
    "starts_at" TEXT NOT NULL,
    "ends_at" TEXT NOT NULL,
    "break_after" TEXT,
    "break_minutes" INTEGER NOT NULL DEFAULT 0,
    "from_day" DATE NOT NULL,
    "to_day" DATE,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "shift_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "absence" (
    "id" UUID NOT NULL,
    "crew_id" UUID,
    "member_id" UUID,
    "kit_item_id" UUID,
    "from_day" DATE NOT NULL,
    "to_day" DATE NOT NULL,
    "reason" TEXT NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "absence_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "closed_season" (
    "id" UUID NOT NULL,
    "depot_id" UUID,
    "tasks" TEXT[],
    "from_day" DATE NOT NULL,
    "to_day" DATE NOT NULL,
    "reason" TEXT NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "closed_season_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "plan" (
    "id" UUID NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'searching',
    "from_day" DATE NOT NULL,
    "to_day" DATE NOT NULL,
    "because" TEXT NOT NULL,
    "asked_by" TEXT NOT NULL,
    "seed" INTEGER NOT NULL,
    "search_seconds" DOUBLE PRECISION NOT NULL,
    "progress" DOUBLE PRECISION NOT NULL DEFAULT 0,
    "input_hash" TEXT,
    "engine_version" TEXT,
    "iterations" INTEGER,
    "cost_minor" INTEGER,
    "summary" JSONB NOT NULL DEFAULT '{}',
    "unplaced" JSONB NOT NULL DEFAULT '[]',
    "stale_because" JSONB NOT NULL DEFAULT '[]',
    "failed_because" TEXT,
    "proposed_at" TIMESTAMPTZ(3),
    "accepted_at" TIMESTAMPTZ(3),
    "accepted_by" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "plan_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "route" (
    "id" UUID NOT NULL,
    "plan_id" UUID NOT NULL,
    "crew_id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'proposed',
    "leaves_at" TIMESTAMPTZ(3),
    "returns_at" TIMESTAMPTZ(3),
    "drive_s" INTEGER NOT NULL DEFAULT 0,
    "drive_m" INTEGER NOT NULL DEFAULT 0,
    "work_s" INTEGER NOT NULL DEFAULT 0,
    "wait_s" INTEGER NOT NULL DEFAULT 0,
    "published_at" TIMESTAMPTZ(3),
    "closed_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "route_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "stop" (
    "id" UUID NOT NULL,
    "route_id" UUID NOT NULL,
    "work_order_id" UUID,
    "position" INTEGER NOT NULL,
    "kind" TEXT NOT NULL DEFAULT 'visit',
    "live" BOOLEAN NOT NULL DEFAULT false,
    "locked" BOOLEAN NOT NULL DEFAULT false,
    "travel_s" INTEGER NOT NULL,
    "travel_m" INTEGER NOT NULL,
    "arrives_at" TIMESTAMPTZ(3) NOT NULL,
    "starts_at" TIMESTAMPTZ(3) NOT NULL,
    "ends_at" TIMESTAMPTZ(3) NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "stop_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "attempt" (
    "id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "stop_id" UUID,
    "crew_id" UUID,
    "author" TEXT NOT NULL,
    "started_at" TIMESTAMPTZ(3) NOT NULL,
    "ended_at" TIMESTAMPTZ(3),
    "result" TEXT,
    "reason" TEXT,
    "pump_restored" JSONB,
    "flow_proven" TEXT,
    "water_went_to" TEXT,
    "billed" TEXT,
    "note" TEXT,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "attempt_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "nightly_run" (
    "id" UUID NOT NULL,
    "business_day" DATE NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "asked_by" TEXT NOT NULL,
    "times" INTEGER NOT NULL DEFAULT 1,
    "holder" TEXT,
    "heartbeat_at" TIMESTAMPTZ(3),
    "lease_until" TIMESTAMPTZ(3),
    "started_at" TIMESTAMPTZ(3),
    "finished_at" TIMESTAMPTZ(3),
    "failed_because" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "nightly_run_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "nightly_step" (
    "id" UUID NOT NULL,
    "run_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "position" INTEGER NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "progress" DOUBLE PRECISION NOT NULL DEFAULT 0,
    "counts" JSONB NOT NULL DEFAULT '{}',
    "seconds" DOUBLE PRECISION,
    "started_at" TIMESTAMPTZ(3),
    "finished_at" TIMESTAMPTZ(3),
    "failed_because" TEXT,

    CONSTRAINT "nightly_step_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "event" (
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "once_key" TEXT NOT NULL,
    "facts" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "event_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "access_key" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "member_id" UUID,
    "roles" TEXT[],
    "hash" BYTEA NOT NULL,
    "expires_at" TIMESTAMPTZ(3),
    "revoked_at" TIMESTAMPTZ(3),
    "last_used_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "access_key_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "setting" (
    "name" TEXT NOT NULL,
    "value" JSONB NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "setting_pkey" PRIMARY KEY ("name")
);

-- CreateTable
CREATE TABLE "idempotency_key" (
    "caller" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "fingerprint" BYTEA NOT NULL,
    "status" INTEGER,
    "headers" JSONB,
    "body" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "idempotency_key_pkey" PRIMARY KEY ("caller","key")
);

-- CreateTable
CREATE TABLE "conflict" (
    "id" UUID NOT NULL,
    "resource" TEXT NOT NULL,
    "resource_id" UUID NOT NULL,
    "author" TEXT NOT NULL,
    "content" JSONB NOT NULL,
    "settled_at" TIMESTAMPTZ(3),
    "settled_by" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "conflict_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "change_log" (
    "seq" BIGSERIAL NOT NULL,
    "resource" TEXT NOT NULL,
    "row_id" UUID NOT NULL,
    "op" TEXT NOT NULL,
    "version" INTEGER,
    "actor" TEXT NOT NULL,
    "xact" BIGINT NOT NULL DEFAULT ((pg_current_xact_id())::text)::bigint,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "change_log_pkey" PRIMARY KEY ("seq")
);

-- CreateTable
CREATE TABLE "import_run" (
    "id" UUID NOT NULL,
    "source" TEXT NOT NULL,
    "files" JSONB NOT NULL,
    "counts" JSONB NOT NULL,
    "asked_by" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "import_run_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "trend_history" (
    "line_id" UUID NOT NULL,
    "as_of" DATE NOT NULL,
    "fit_id" UUID NOT NULL,
    "engine_version" TEXT NOT NULL,
    "evidence_hash" TEXT NOT NULL,
    "because" TEXT NOT NULL,
    "occlusion" DOUBLE PRECISION NOT NULL,
    "occlusion_sd" DOUBLE PRECISION NOT NULL,
    "rate_per_month" DOUBLE PRECISION NOT NULL,
    "action_limit" DOUBLE PRECISION NOT NULL,
    "plug_limit" DOUBLE PRECISION NOT NULL,
    "action_q10_on" DATE,
    "action_q50_on" DATE,
    "action_q90_on" DATE,
    "plug_q50_on" DATE,
    "readings_used" INTEGER NOT NULL,
    "due_on" DATE,
    "due_rule" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "trend_history_pkey" PRIMARY KEY ("line_id","as_of")
) PARTITION BY RANGE ("as_of");

-- CreateIndex
CREATE UNIQUE INDEX "client_source_external_ref_key" ON "client"("source", "external_ref");

-- CreateIndex
CREATE INDEX "contact_client_id_idx" ON "contact"("client_id");

-- CreateIndex
CREATE INDEX "contact_site_id_idx" ON "contact"("site_id");

-- CreateIndex
CREATE INDEX "site_area_idx" ON "site"("area");

-- CreateIndex
CREATE UNIQUE INDEX "site_source_external_ref_key" ON "site"("source", "external_ref");

-- CreateIndex
CREATE INDEX "site_client_site_id_idx" ON "site_client"("site_id");

-- CreateIndex
CREATE INDEX "site_client_client_id_idx" ON "site_client"("client_id");

-- CreateIndex
CREATE INDEX "care_terms_site_id_idx" ON "care_terms"("site_id");

-- CreateIndex
CREATE INDEX "system_site_id_idx" ON "system"("site_id");

-- CreateIndex
CREATE UNIQUE INDEX "pit_system_id_key" ON "pit"("system_id");

-- CreateIndex
CREATE UNIQUE INDEX "pit_discharge_line_id_key" ON "pit"("discharge_line_id");

-- CreateIndex
CREATE INDEX "pit_site_id_idx" ON "pit"("site_id");

-- CreateIndex
CREATE INDEX "pump_pit_id_idx" ON "pump"("pit_id");

-- CreateIndex
CREATE INDEX "line_site_id_idx" ON "line"("site_id");

-- CreateIndex
CREATE INDEX "line_system_id_idx" ON "line"("system_id");

-- CreateIndex
CREATE INDEX "line_drains_to_pit_id_idx" ON "line"("drains_to_pit_id");

-- CreateIndex
CREATE INDEX "line_drains_to_line_id_idx" ON "line"("drains_to_line_id");

-- CreateIndex
CREATE UNIQUE INDEX "line_source_external_ref_key" ON "line"("source", "external_ref");

-- CreateIndex
CREATE INDEX "line_section_line_id_idx" ON "line_section"("line_id");

-- CreateIndex
CREATE INDEX "access_point_site_id_idx" ON "access_point"("site_id");

-- CreateIndex
CREATE INDEX "access_point_line_id_idx" ON "access_point"("line_id");

-- CreateIndex
CREATE UNIQUE INDEX "epoch_line_id_started_on_key" ON "epoch"("line_id", "started_on");

-- CreateIndex
CREATE INDEX "regime_change_line_id_idx" ON "regime_change"("line_id");

-- CreateIndex
CREATE UNIQUE INDEX "inspection_replaces_id_key" ON "inspection"("replaces_id");

-- CreateIndex
CREATE INDEX "inspection_line_id_observed_at_idx" ON "inspection"("line_id", "observed_at");

-- CreateIndex
CREATE INDEX "inspection_pit_id_observed_at_idx" ON "inspection"("pit_id", "observed_at");

-- CreateIndex
CREATE INDEX "inspection_received_at_idx" ON "inspection"("received_at");

-- CreateIndex
CREATE INDEX "inspection_work_order_id_idx" ON "inspection"("work_order_id");

-- CreateIndex
CREATE INDEX "clean_line_id_cleaned_at_idx" ON "clean"("line_id", "cleaned_at");

-- CreateIndex
CREATE INDEX "clean_pit_id_cleaned_at_idx" ON "clean"("pit_id", "cleaned_at");

-- CreateIndex
CREATE INDEX "clean_received_at_idx" ON "clean"("received_at");

-- CreateIndex
CREATE INDEX "clean_work_order_id_idx" ON "clean"("work_order_id");

-- CreateIndex
CREATE INDEX "reading_review_line_id_idx" ON "reading_review"("line_id");

-- CreateIndex
CREATE INDEX "fit_as_of_idx" ON "fit"("as_of");

-- CreateIndex
CREATE INDEX "trend_due_on_line_id_idx" ON "trend"("due_on", "line_id");

-- CreateIndex
CREATE INDEX "trend_rate_per_month_line_id_idx" ON "trend"("rate_per_month", "line_id");

-- CreateIndex
CREATE INDEX "trend_action_chance_30d_line_id_idx" ON "trend"("action_chance_30d", "line_id");

-- CreateIndex
CREATE UNIQUE INDEX "work_order_number_key" ON "work_order"("number");

-- CreateIndex
CREATE INDEX "work_order_state_wanted_by_idx" ON "work_order"("state", "wanted_by");

-- CreateIndex
CREATE INDEX "work_order_site_id_idx" ON "work_order"("site_id");

-- CreateIndex
CREATE INDEX "work_order_task_line_id_idx" ON "work_order_task"("line_id");

-- CreateIndex
CREATE INDEX "work_order_task_pit_id_idx" ON "work_order_task"("pit_id");

-- CreateIndex
CREATE UNIQUE INDEX "work_order_task_work_order_id_position_key" ON "work_order_task"("work_order_id", "position");

-- CreateIndex
CREATE INDEX "precondition_work_order_id_idx" ON "precondition"("work_order_id");

-- CreateIndex
CREATE INDEX "promise_work_order_id_idx" ON "promise"("work_order_id");

-- CreateIndex
CREATE INDEX "decision_site_id_idx" ON "decision"("site_id");

-- CreateIndex
CREATE UNIQUE INDEX "crew_source_external_ref_key" ON "crew"("source", "external_ref");

-- CreateIndex
CREATE INDEX "crew_membership_crew_id_idx" ON "crew_membership"("crew_id");

-- CreateIndex
CREATE INDEX "crew_membership_member_id_idx" ON "crew_membership"("member_id");

-- CreateIndex
CREATE UNIQUE INDEX "kit_item_source_external_ref_key" ON "kit_item"("source", "external_ref");

-- CreateIndex
CREATE INDEX "crew_kit_crew_id_idx" ON "crew_kit"("crew_id");

-- CreateIndex
CREATE INDEX "crew_kit_kit_item_id_idx" ON "crew_kit"("kit_item_id");

-- CreateIndex
CREATE INDEX "shift_crew_id_idx" ON "shift"("crew_id");

-- CreateIndex
CREATE INDEX "absence_from_day_to_day_idx" ON "absence"("from_day", "to_day");

-- CreateIndex
CREATE INDEX "plan_from_day_to_day_idx" ON "plan"("from_day", "to_day");

-- CreateIndex
CREATE INDEX "route_day_state_idx" ON "route"("day", "state");

-- CreateIndex
CREATE INDEX "route_plan_id_idx" ON "route"("plan_id");

-- CreateIndex
CREATE INDEX "stop_work_order_id_idx" ON "stop"("work_order_id");

-- CreateIndex
CREATE UNIQUE INDEX "stop_route_id_position_key" ON "stop"("route_id", "position");

-- CreateIndex
CREATE INDEX "attempt_work_order_id_idx" ON "attempt"("work_order_id");

-- CreateIndex
CREATE UNIQUE INDEX "nightly_run_business_day_key" ON "nightly_run"("business_day");

-- CreateIndex
CREATE UNIQUE INDEX "nightly_step_run_id_name_key" ON "nightly_step"("run_id", "name");

-- CreateIndex
CREATE UNIQUE INDEX "event_once_key_key" ON "event"("once_key");

-- CreateIndex
CREATE INDEX "event_created_at_idx" ON "event"("created_at");

-- CreateIndex
CREATE UNIQUE INDEX "access_key_hash_key" ON "access_key"("hash");

-- CreateIndex
CREATE INDEX "idempotency_key_created_at_idx" ON "idempotency_key"("created_at");

-- CreateIndex
CREATE INDEX "conflict_resource_resource_id_idx" ON "conflict"("resource", "resource_id");

-- CreateIndex
CREATE INDEX "change_log_resource_row_id_idx" ON "change_log"("resource", "row_id");

-- CreateIndex
CREATE INDEX "trend_history_as_of_idx" ON "trend_history"("as_of");

-- AddForeignKey
ALTER TABLE "contact" ADD CONSTRAINT "contact_client_id_fkey" FOREIGN KEY ("client_id") REFERENCES "client"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "contact" ADD CONSTRAINT "contact_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "site_client" ADD CONSTRAINT "site_client_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "site_client" ADD CONSTRAINT "site_client_client_id_fkey" FOREIGN KEY ("client_id") REFERENCES "client"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "care_terms" ADD CONSTRAINT "care_terms_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "system" ADD CONSTRAINT "system_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pit" ADD CONSTRAINT "pit_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pit" ADD CONSTRAINT "pit_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pit" ADD CONSTRAINT "pit_discharge_line_id_fkey" FOREIGN KEY ("discharge_line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pump" ADD CONSTRAINT "pump_pit_id_fkey" FOREIGN KEY ("pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "line" ADD CONSTRAINT "line_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "line" ADD CONSTRAINT "line_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "line" ADD CONSTRAINT "line_drains_to_pit_id_fkey" FOREIGN KEY ("drains_to_pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "line" ADD CONSTRAINT "line_drains_to_line_id_fkey" FOREIGN KEY ("drains_to_line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "line_section" ADD CONSTRAINT "line_section_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "access_point" ADD CONSTRAINT "access_point_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "access_point" ADD CONSTRAINT "access_point_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "access_point" ADD CONSTRAINT "access_point_pit_id_fkey" FOREIGN KEY ("pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "epoch" ADD CONSTRAINT "epoch_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "regime_change" ADD CONSTRAINT "regime_change_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspection" ADD CONSTRAINT "inspection_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspection" ADD CONSTRAINT "inspection_pit_id_fkey" FOREIGN KEY ("pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspection" ADD CONSTRAINT "inspection_replaces_id_fkey" FOREIGN KEY ("replaces_id") REFERENCES "inspection"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspection" ADD CONSTRAINT "inspection_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspection" ADD CONSTRAINT "inspection_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "clean" ADD CONSTRAINT "clean_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "clean" ADD CONSTRAINT "clean_pit_id_fkey" FOREIGN KEY ("pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "clean" ADD CONSTRAINT "clean_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "clean" ADD CONSTRAINT "clean_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_review" ADD CONSTRAINT "reading_review_inspection_id_fkey" FOREIGN KEY ("inspection_id") REFERENCES "inspection"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "line_state" ADD CONSTRAINT "line_state_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "trend" ADD CONSTRAINT "trend_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "work_order" ADD CONSTRAINT "work_order_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "work_order" ADD CONSTRAINT "work_order_follows_id_fkey" FOREIGN KEY ("follows_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "work_order" ADD CONSTRAINT "work_order_returns_for_id_fkey" FOREIGN KEY ("returns_for_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "work_order_task" ADD CONSTRAINT "work_order_task_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "work_order_task" ADD CONSTRAINT "work_order_task_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "work_order_task" ADD CONSTRAINT "work_order_task_pit_id_fkey" FOREIGN KEY ("pit_id") REFERENCES "pit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "precondition" ADD CONSTRAINT "precondition_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "promise" ADD CONSTRAINT "promise_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "decision" ADD CONSTRAINT "decision_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "crew" ADD CONSTRAINT "crew_depot_id_fkey" FOREIGN KEY ("depot_id") REFERENCES "depot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "crew_membership" ADD CONSTRAINT "crew_membership_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "crew_membership" ADD CONSTRAINT "crew_membership_member_id_fkey" FOREIGN KEY ("member_id") REFERENCES "member"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kit_item" ADD CONSTRAINT "kit_item_depot_id_fkey" FOREIGN KEY ("depot_id") REFERENCES "depot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "crew_kit" ADD CONSTRAINT "crew_kit_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "crew_kit" ADD CONSTRAINT "crew_kit_kit_item_id_fkey" FOREIGN KEY ("kit_item_id") REFERENCES "kit_item"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "shift" ADD CONSTRAINT "shift_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "absence" ADD CONSTRAINT "absence_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "absence" ADD CONSTRAINT "absence_member_id_fkey" FOREIGN KEY ("member_id") REFERENCES "member"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "absence" ADD CONSTRAINT "absence_kit_item_id_fkey" FOREIGN KEY ("kit_item_id") REFERENCES "kit_item"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "closed_season" ADD CONSTRAINT "closed_season_depot_id_fkey" FOREIGN KEY ("depot_id") REFERENCES "depot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "route" ADD CONSTRAINT "route_plan_id_fkey" FOREIGN KEY ("plan_id") REFERENCES "plan"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "route" ADD CONSTRAINT "route_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stop" ADD CONSTRAINT "stop_route_id_fkey" FOREIGN KEY ("route_id") REFERENCES "route"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stop" ADD CONSTRAINT "stop_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attempt" ADD CONSTRAINT "attempt_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attempt" ADD CONSTRAINT "attempt_crew_id_fkey" FOREIGN KEY ("crew_id") REFERENCES "crew"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attempt" ADD CONSTRAINT "attempt_stop_id_fkey" FOREIGN KEY ("stop_id") REFERENCES "stop"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "nightly_step" ADD CONSTRAINT "nightly_step_run_id_fkey" FOREIGN KEY ("run_id") REFERENCES "nightly_run"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "access_key" ADD CONSTRAINT "access_key_member_id_fkey" FOREIGN KEY ("member_id") REFERENCES "member"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What Prisma cannot say. ---------------------------------------------------------------------------

CREATE EXTENSION IF NOT EXISTS btree_gist;

-- Shares, quantities and pairs that must make sense whoever writes.
ALTER TABLE contact ADD CONSTRAINT contact_belongs_somewhere CHECK (client_id IS NOT NULL OR site_id IS NOT NULL);
ALTER TABLE site ADD CONSTRAINT site_on_the_map CHECK ((latitude IS NULL) = (longitude IS NULL) AND latitude BETWEEN -90 AND 90 AND longitude BETWEEN -180 AND 180);
ALTER TABLE site ADD CONSTRAINT site_iron_range CHECK (ferrous_iron_mg_l >= 0);
ALTER TABLE depot ADD CONSTRAINT depot_on_the_map CHECK (latitude BETWEEN -90 AND 90 AND longitude BETWEEN -180 AND 180);
ALTER TABLE care_terms ADD CONSTRAINT care_terms_range CHECK (interval_days > 0 AND visits_per_year > 0 AND early_visits_per_year >= 0 AND price_minor >= 0);
ALTER TABLE line ADD CONSTRAINT line_drains_to_one_thing CHECK (
  (drains_to = 'pit') = (drains_to_pit_id IS NOT NULL) AND (drains_to = 'line') = (drains_to_line_id IS NOT NULL));
ALTER TABLE line ADD CONSTRAINT line_limits CHECK (action_limit > 0 AND action_limit < 1 AND plug_limit > 0 AND plug_limit <= 1 AND length_m > 0 AND ferrous_iron_mg_l >= 0);
ALTER TABLE line_section ADD CONSTRAINT line_section_range CHECK (bore_mm > 0 AND from_m >= 0 AND to_m > from_m AND (from_m IS NULL) = (to_m IS NULL));
ALTER TABLE inspection ADD CONSTRAINT inspection_of_one_thing CHECK (num_nonnulls(line_id, pit_id) = 1);
ALTER TABLE inspection ADD CONSTRAINT inspection_reading CHECK (
  occlusion BETWEEN 0 AND 1 AND standard_error > 0 AND (occlusion IS NULL) = (standard_error IS NULL) AND plugged = (plug_cause IS NOT NULL));
ALTER TABLE clean ADD CONSTRAINT clean_of_one_thing CHECK (num_nonnulls(line_id, pit_id) = 1);
ALTER TABLE clean ADD CONSTRAINT clean_range CHECK (passes > 0 AND nozzle_stopped_m >= 0 AND water_l >= 0);
ALTER TABLE trend ADD CONSTRAINT trend_shares CHECK (occlusion BETWEEN 0 AND 1 AND action_chance_30d BETWEEN 0 AND 1 AND plug_chance_year BETWEEN 0 AND 1);
ALTER TABLE work_order ADD CONSTRAINT work_order_range CHECK (people > 0 AND minutes > 0 AND water_l >= 0 AND sludge_l >= 0);
ALTER TABLE work_order ADD CONSTRAINT work_order_dates CHECK (not_before <= wanted_by);
ALTER TABLE work_order ADD CONSTRAINT work_order_ends CHECK ((state = 'done') = (done_at IS NOT NULL) AND (state = 'withdrawn') = (withdrawn_because IS NOT NULL));
ALTER TABLE work_order_task ADD CONSTRAINT work_order_task_of_one_thing CHECK (num_nonnulls(line_id, pit_id) = 1 AND minutes > 0);
ALTER TABLE absence ADD CONSTRAINT absence_of_one_thing CHECK (num_nonnulls(crew_id, member_id, kit_item_id) = 1 AND from_day <= to_day);
ALTER TABLE closed_season ADD CONSTRAINT closed_season_days CHECK (from_day <= to_day);
ALTER TABLE crew ADD CONSTRAINT crew_people CHECK (people > 0);
ALTER TABLE shift ADD CONSTRAINT shift_times CHECK (
  starts_at ~ '^([01]\d|2[0-3]):[0-5]\d$' AND ends_at ~ '^([01]\d|2[0-3]):[0-5]\d$' AND starts_at < ends_at AND break_minutes >= 0);
ALTER TABLE attempt ADD CONSTRAINT attempt_ends CHECK (
  (result IS NULL) = (ended_at IS NULL) AND (result = 'not_done') = (reason IS NOT NULL) AND ended_at >= started_at);
ALTER TABLE stop ADD CONSTRAINT stop_visits_an_order CHECK ((kind = 'visit') = (work_order_id IS NOT NULL));
ALTER TABLE plan ADD CONSTRAINT plan_days CHECK (from_day <= to_day);

-- No two of these at the same time.
ALTER TABLE line_section ADD CONSTRAINT line_section_no_overlap EXCLUDE USING gist (
  line_id WITH =, numrange(from_m::numeric, to_m::numeric) WITH &&, daterange(installed_on, removed_on) WITH &&);
ALTER TABLE site_client ADD CONSTRAINT site_client_one_at_a_time EXCLUDE USING gist (site_id WITH =, daterange(from_day, to_day) WITH &&);
ALTER TABLE crew_membership ADD CONSTRAINT crew_membership_one_crew EXCLUDE USING gist (member_id WITH =, daterange(from_day, to_day) WITH &&);
ALTER TABLE crew_kit ADD CONSTRAINT crew_kit_one_crew EXCLUDE USING gist (kit_item_id WITH =, daterange(from_day, to_day) WITH &&);
ALTER TABLE shift ADD CONSTRAINT shift_one_a_day EXCLUDE USING gist (crew_id WITH =, weekday WITH =, daterange(from_day, to_day) WITH &&);
CREATE UNIQUE INDEX route_one_live_per_crew_and_day ON route (crew_id, day) WHERE state = 'live';
CREATE UNIQUE INDEX stop_one_live_per_order ON stop (work_order_id) WHERE live;
CREATE UNIQUE INDEX task_one_open_per_line ON work_order_task (line_id, kind) WHERE open AND line_id IS NOT NULL;
CREATE UNIQUE INDEX task_one_open_per_pit ON work_order_task (pit_id, kind) WHERE open AND pit_id IS NOT NULL;
CREATE UNIQUE INDEX nightly_run_one_at_a_time ON nightly_run ((true)) WHERE state = 'running';
CREATE UNIQUE INDEX attempt_one_open_per_order ON attempt (work_order_id) WHERE ended_at IS NULL;
CREATE UNIQUE INDEX inspection_natural_key ON inspection (line_id, observed_at, phase, coalesce(method, ''))
  WHERE source IS NOT NULL AND replaced_at IS NULL AND withdrawn_at IS NULL;
CREATE UNIQUE INDEX clean_natural_key ON clean (line_id, cleaned_at) WHERE source IS NOT NULL AND withdrawn_at IS NULL;
CREATE INDEX reading_review_open ON reading_review (created_at) WHERE verdict = 'open';

-- A row's version and time follow every change that changes something.
CREATE FUNCTION bump_version() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW IS NOT DISTINCT FROM OLD THEN RETURN OLD; END IF;
  NEW.version := OLD.version + 1;
  NEW.updated_at := now();
  RETURN NEW;
END $$;

-- Who changed what. The actor comes with the transaction; one statement, one insert.
CREATE FUNCTION log_change() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE who text := coalesce(nullif(current_setting('app.actor', true), ''), 'unknown');
BEGIN
  IF TG_OP = 'DELETE' THEN
    INSERT INTO change_log (resource, row_id, op, version, actor) SELECT TG_TABLE_NAME, id, 'removed', version, who FROM gone;
  ELSIF TG_OP = 'INSERT' THEN
    INSERT INTO change_log (resource, row_id, op, version, actor) SELECT TG_TABLE_NAME, id, 'created', version, who FROM come;
  ELSE
    INSERT INTO change_log (resource, row_id, op, version, actor)
      SELECT TG_TABLE_NAME, come.id, 'changed', come.version, who FROM come JOIN gone USING (id) WHERE come.version <> gone.version;
  END IF;
  RETURN NULL;
END $$;

DO $$
DECLARE t text;
BEGIN
  FOREACH t IN ARRAY ARRAY['client','contact','site','site_client','care_terms','system','pit','pump','line','line_section',
    'access_point','epoch','regime_change','inspection','clean','work_order','work_order_task','precondition','promise','decision',
    'depot','crew','member','crew_membership','kit_item','crew_kit','shift','absence','closed_season','plan','route','stop','attempt',
    'access_key'] LOOP
    EXECUTE format('CREATE TRIGGER %I BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION bump_version()', t || '_version', t);
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_insert', t);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_update', t);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change()', t || '_log_delete', t);
  END LOOP;
END $$;
CREATE TRIGGER reading_review_version BEFORE UPDATE ON reading_review FOR EACH ROW EXECUTE FUNCTION bump_version();
CREATE TRIGGER nightly_run_version BEFORE UPDATE ON nightly_run FOR EACH ROW EXECUTE FUNCTION bump_version();

-- What was found stays as it was found: an inspection is replaced or withdrawn, its reading never edited.
CREATE FUNCTION inspection_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF (NEW.line_id, NEW.pit_id, NEW.observed_at, NEW.received_at, NEW.author, NEW.crew_id, NEW.phase, NEW.method, NEW.raw, NEW.plugged)
     IS DISTINCT FROM (OLD.line_id, OLD.pit_id, OLD.observed_at, OLD.received_at, OLD.author, OLD.crew_id, OLD.phase, OLD.method, OLD.raw, OLD.plugged) THEN
    RAISE EXCEPTION 'an inspection is never edited: replace or withdraw it' USING ERRCODE = 'check_violation', CONSTRAINT = 'inspection_stays';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER inspection_stays BEFORE UPDATE ON inspection FOR EACH ROW EXECUTE FUNCTION inspection_stays();

-- A line's main make is that of its longest present section.
CREATE FUNCTION line_follows_sections() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  UPDATE line SET main_material = s.material, main_bore_mm = s.bore_mm
  FROM (SELECT DISTINCT ON (line_id) line_id, material, bore_mm FROM line_section
        WHERE line_id IN (SELECT line_id FROM come) AND removed_on IS NULL
        ORDER BY line_id, coalesce(to_m - from_m, 'Infinity') DESC, id) s
  WHERE line.id = s.line_id AND (line.main_material, line.main_bore_mm) IS DISTINCT FROM (s.material, s.bore_mm);
  RETURN NULL;
END $$;
CREATE TRIGGER line_section_main_insert AFTER INSERT ON line_section REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION line_follows_sections();
CREATE TRIGGER line_section_main_update AFTER UPDATE ON line_section REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION line_follows_sections();

-- Water does not run in circles, and what belongs together stands on one site. Writers of one site take turns.
CREATE FUNCTION drainage_is_sound(start_line uuid, on_site uuid) RETURNS void LANGUAGE plpgsql AS $$
DECLARE at_line uuid := start_line; seen uuid[] := '{}';
BEGIN
  PERFORM FROM site WHERE id = on_site FOR NO KEY UPDATE;
  WHILE at_line IS NOT NULL LOOP
    IF at_line = ANY (seen) THEN
      RAISE EXCEPTION 'what drains to what runs in a circle' USING ERRCODE = 'check_violation', CONSTRAINT = 'drains_to_no_loop';
    END IF;
    seen := seen || at_line;
    SELECT coalesce(l.drains_to_line_id, p.discharge_line_id) INTO at_line
      FROM line l LEFT JOIN pit p ON p.id = l.drains_to_pit_id WHERE l.id = at_line;
  END LOOP;
END $$;

CREATE FUNCTION line_is_sound() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS (SELECT FROM system WHERE id = NEW.system_id AND site_id = NEW.site_id)
     OR (NEW.drains_to_pit_id IS NOT NULL AND NOT EXISTS (SELECT FROM pit WHERE id = NEW.drains_to_pit_id AND site_id = NEW.site_id))
     OR (NEW.drains_to_line_id IS NOT NULL AND NOT EXISTS (SELECT FROM line WHERE id = NEW.drains_to_line_id AND site_id = NEW.site_id)) THEN
    RAISE EXCEPTION 'a line, its system and what it drains to stand on one site' USING ERRCODE = 'check_violation', CONSTRAINT = 'line_on_one_site';
  END IF;
  IF NEW.drains_to IN ('pit', 'line') THEN PERFORM drainage_is_sound(NEW.id, NEW.site_id); END IF;
  RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER line_is_sound AFTER INSERT OR UPDATE OF site_id, system_id, drains_to, drains_to_pit_id, drains_to_line_id ON line
  DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION line_is_sound();

CREATE FUNCTION pit_is_sound() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS (SELECT FROM system WHERE id = NEW.system_id AND site_id = NEW.site_id)
     OR (NEW.discharge_line_id IS NOT NULL AND NOT EXISTS (SELECT FROM line WHERE id = NEW.discharge_line_id AND site_id = NEW.site_id)) THEN
    RAISE EXCEPTION 'a pit, its system and its discharge stand on one site' USING ERRCODE = 'check_violation', CONSTRAINT = 'pit_on_one_site';
  END IF;
  IF NEW.discharge_line_id IS NOT NULL THEN PERFORM drainage_is_sound(NEW.discharge_line_id, NEW.site_id); END IF;
  RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER pit_is_sound AFTER INSERT OR UPDATE OF site_id, system_id, discharge_line_id ON pit
  DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION pit_is_sound();

-- A task is open while its order is and it has no result: the unique indexes above rest on it.
CREATE FUNCTION task_open() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  NEW.open := NEW.result IS NULL AND EXISTS (SELECT FROM work_order WHERE id = NEW.work_order_id AND state IN ('wanted', 'placed', 'under_way'));
  RETURN NEW;
END $$;
CREATE TRIGGER a_task_open BEFORE INSERT OR UPDATE ON work_order_task FOR EACH ROW EXECUTE FUNCTION task_open();

CREATE FUNCTION order_opens_tasks() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  UPDATE work_order_task SET open = result IS NULL AND NEW.state IN ('wanted', 'placed', 'under_way') WHERE work_order_id = NEW.id;
  RETURN NULL;
END $$;
CREATE TRIGGER order_opens_tasks AFTER UPDATE OF state ON work_order FOR EACH ROW WHEN (NEW.state <> OLD.state) EXECUTE FUNCTION order_opens_tasks();

-- Past trends, a partition a month; the night makes the month's before it writes.
CREATE FUNCTION make_trend_history_partition(day date) RETURNS void LANGUAGE plpgsql AS $$
DECLARE first date := date_trunc('month', day)::date; name text := 'trend_history_' || to_char(day, 'YYYY_MM');
BEGIN
  IF to_regclass(name) IS NULL THEN
    PERFORM pg_advisory_xact_lock(72707370);
    EXECUTE format('CREATE TABLE IF NOT EXISTS %I PARTITION OF trend_history FOR VALUES FROM (%L) TO (%L)', name, first, (first + interval '1 month')::date);
  END IF;
END $$;

-- Words. Compared with src/domain/words.ts by a test.
ALTER TABLE line ADD CONSTRAINT line_kind_word CHECK (kind IN ('sump_discharge', 'footing_drain', 'floor_drain', 'yard_drain'));
ALTER TABLE line ADD CONSTRAINT line_outlet_word CHECK (outlet IN ('daylight', 'creek', 'ditch', 'pond', 'kerb', 'storm_sewer', 'dry_well', 'pop_up', 'sanitary_sewer', 'unknown'));
ALTER TABLE line ADD CONSTRAINT line_outlet_state_word CHECK (outlet_state IN ('flowing', 'trickle', 'dry', 'submerged', 'frozen', 'buried', 'not_found'));
ALTER TABLE line ADD CONSTRAINT line_deposit_word CHECK (deposit IN ('gel', 'crust', 'granular', 'roots', 'none', 'unknown'));
ALTER TABLE line ADD CONSTRAINT line_main_material_word CHECK (main_material IN ('pvc', 'corrugated_hdpe', 'clay', 'concrete', 'cast_iron', 'other', 'unknown'));
ALTER TABLE line ADD CONSTRAINT line_drains_to_word CHECK (drains_to IN ('pit', 'line', 'outlet', 'unknown'));
ALTER TABLE line_section ADD CONSTRAINT line_section_material_word CHECK (material IN ('pvc', 'corrugated_hdpe', 'clay', 'concrete', 'cast_iron', 'other', 'unknown'));
ALTER TABLE line_section ADD CONSTRAINT line_section_condition_word CHECK (condition IN ('sound', 'worn', 'weak', 'unknown'));
ALTER TABLE site ADD CONSTRAINT site_basement_word CHECK (basement IN ('finished', 'basement', 'none', 'unknown'));
ALTER TABLE site ADD CONSTRAINT site_access_word CHECK (access IN ('anytime', 'someone_home'));
ALTER TABLE site ADD CONSTRAINT site_tap_word CHECK (tap IN ('yes', 'no', 'unknown'));
ALTER TABLE system ADD CONSTRAINT system_kind_word CHECK (kind IN ('pit', 'gravity'));
ALTER TABLE pump ADD CONSTRAINT pump_duty_word CHECK (duty IN ('main', 'backup'));
ALTER TABLE access_point ADD CONSTRAINT access_point_kind_word CHECK (kind IN ('outlet', 'cleanout', 'pit', 'floor_opening'));
ALTER TABLE access_point ADD CONSTRAINT access_point_direction_word CHECK (direction IN ('upstream', 'downstream', 'both'));
ALTER TABLE epoch ADD CONSTRAINT epoch_begins_word CHECK (begins IN ('clean', 'unknown'));
ALTER TABLE epoch ADD CONSTRAINT epoch_because_word CHECK (because IN ('installed', 'first_record', 'replaced'));
ALTER TABLE regime_change ADD CONSTRAINT regime_change_cause_word CHECK (cause IN ('new_pump', 'excavation', 'partial_replacement', 'recognised'));
ALTER TABLE inspection ADD CONSTRAINT inspection_phase_word CHECK (phase IN ('before_cleaning', 'after_cleaning', 'no_cleaning'));
ALTER TABLE inspection ADD CONSTRAINT inspection_method_word CHECK (method IN ('camera', 'outlet_look', 'outlet_depth', 'timed_fill', 'poured_flow', 'pit_drawdown', 'passes_to_clear', 'by_word'));
ALTER TABLE inspection ADD CONSTRAINT inspection_plug_cause_word CHECK (plug_cause IN ('deposit', 'ice', 'roots', 'crushed', 'debris', 'buried_outlet', 'animal', 'unknown'));
ALTER TABLE inspection ADD CONSTRAINT inspection_deposit_word CHECK (deposit IN ('gel', 'crust', 'granular', 'roots', 'none', 'unknown'));
ALTER TABLE inspection ADD CONSTRAINT inspection_outlet_state_word CHECK (outlet_state IN ('flowing', 'trickle', 'dry', 'submerged', 'frozen', 'buried', 'not_found'));
ALTER TABLE inspection ADD CONSTRAINT inspection_bound_word CHECK (bound IN ('exact', 'at_most', 'at_least'));
ALTER TABLE clean ADD CONSTRAINT clean_task_word CHECK (task IN ('survey', 'inspect', 'test_pump', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'replace_outlet', 'cable', 'trace', 'temporary_pump', 'dig_and_replace', 'add_cleanout', 'restore'));
ALTER TABLE clean ADD CONSTRAINT clean_flow_proven_word CHECK (flow_proven IN ('yes', 'no', 'not_possible'));
ALTER TABLE clean ADD CONSTRAINT clean_came_back_word CHECK (came_back IN ('clear', 'tinted', 'slugs', 'thick'));
ALTER TABLE reading_review ADD CONSTRAINT reading_review_verdict_word CHECK (verdict IN ('open', 'confirmed', 'dismissed'));
ALTER TABLE work_order ADD CONSTRAINT work_order_state_word CHECK (state IN ('wanted', 'placed', 'under_way', 'done', 'withdrawn'));
ALTER TABLE work_order ADD CONSTRAINT work_order_cause_word CHECK (cause IN ('due', 'first_survey', 'call', 'return_work', 'plugged', 'asked', 'follow_up'));
ALTER TABLE work_order ADD CONSTRAINT work_order_price_basis_word CHECK (price_basis IN ('care_terms', 'quote', 'time_and_material', 'warranty', 'goodwill'));
ALTER TABLE work_order_task ADD CONSTRAINT work_order_task_kind_word CHECK (kind IN ('survey', 'inspect', 'test_pump', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'replace_outlet', 'cable', 'trace', 'temporary_pump', 'dig_and_replace', 'add_cleanout', 'restore'));
ALTER TABLE work_order_task ADD CONSTRAINT work_order_task_result_word CHECK (result IN ('done', 'partly', 'not_done', 'not_needed'));
ALTER TABLE work_order_task ADD CONSTRAINT work_order_task_reason_word CHECK (reason IN ('no_one_home', 'gate', 'dog', 'snow', 'outlet_not_found', 'refused', 'unsafe', 'kit', 'water_off', 'out_of_time'));
ALTER TABLE precondition ADD CONSTRAINT precondition_kind_word CHECK (kind IN ('locate_ticket', 'consent', 'quote_accepted', 'discharge_plan', 'someone_home', 'parts'));
ALTER TABLE precondition ADD CONSTRAINT precondition_state_word CHECK (state IN ('open', 'met', 'waived'));
ALTER TABLE decision ADD CONSTRAINT decision_kind_word CHECK (kind IN ('refusal', 'postponement'));
ALTER TABLE decision ADD CONSTRAINT decision_task_word CHECK (task IN ('survey', 'inspect', 'test_pump', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'replace_outlet', 'cable', 'trace', 'temporary_pump', 'dig_and_replace', 'add_cleanout', 'restore'));
ALTER TABLE shift ADD CONSTRAINT shift_weekday_word CHECK (weekday IN ('sun', 'mon', 'tue', 'wed', 'thu', 'fri', 'sat'));
ALTER TABLE plan ADD CONSTRAINT plan_state_word CHECK (state IN ('searching', 'proposed', 'accepted', 'discarded', 'stale'));
ALTER TABLE route ADD CONSTRAINT route_state_word CHECK (state IN ('proposed', 'live', 'replaced'));
ALTER TABLE stop ADD CONSTRAINT stop_kind_word CHECK (kind IN ('visit', 'refill', 'disposal', 'break'));
ALTER TABLE attempt ADD CONSTRAINT attempt_result_word CHECK (result IN ('done', 'partly', 'not_done', 'not_needed'));
ALTER TABLE attempt ADD CONSTRAINT attempt_reason_word CHECK (reason IN ('no_one_home', 'gate', 'dog', 'snow', 'outlet_not_found', 'refused', 'unsafe', 'kit', 'water_off', 'out_of_time'));
ALTER TABLE attempt ADD CONSTRAINT attempt_flow_proven_word CHECK (flow_proven IN ('yes', 'no', 'not_possible'));
ALTER TABLE attempt ADD CONSTRAINT attempt_billed_word CHECK (billed IN ('yes', 'no', 'warranty', 'goodwill'));
ALTER TABLE nightly_run ADD CONSTRAINT nightly_run_state_word CHECK (state IN ('waiting', 'running', 'done', 'failed'));
ALTER TABLE nightly_step ADD CONSTRAINT nightly_step_state_word CHECK (state IN ('waiting', 'running', 'done', 'failed'));
ALTER TABLE nightly_step ADD CONSTRAINT nightly_step_name_word CHECK (name IN ('estimate', 'date', 'order', 'route', 'tell'));
ALTER TABLE fit ADD CONSTRAINT fit_kind_word CHECK (kind IN ('weekly', 'nightly'));
ALTER TABLE kit_item ADD CONSTRAINT kit_item_kind_word CHECK (kind IN ('hose', 'jetter', 'camera', 'tracer', 'excavator', 'pump', 'cable_machine', 'vacuum', 'hand_tools'));
ALTER TABLE closed_season ADD CONSTRAINT closed_season_tasks_word CHECK (tasks <@ ARRAY['survey', 'inspect', 'test_pump', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'replace_outlet', 'cable', 'trace', 'temporary_pump', 'dig_and_replace', 'add_cleanout', 'restore']);
ALTER TABLE access_key ADD CONSTRAINT access_key_roles_word CHECK (roles <@ ARRAY['dispatcher', 'technician', 'owner', 'integration']);
ALTER TABLE work_order ADD CONSTRAINT work_order_kit_word CHECK (kit <@ ARRAY['hose', 'jetter', 'camera', 'tracer', 'excavator', 'pump', 'cable_machine', 'vacuum', 'hand_tools']);
ALTER TABLE access_point ADD CONSTRAINT access_point_kit_can_enter_word CHECK (kit_can_enter <@ ARRAY['hose', 'jetter', 'camera', 'tracer', 'excavator', 'pump', 'cable_machine', 'vacuum', 'hand_tools']);

-- A month the night did not prepare still has somewhere to go.
CREATE TABLE trend_history_default PARTITION OF trend_history DEFAULT;

-- The owner's list of trends: the belief beside what it is about.
CREATE VIEW trend_list AS
  SELECT t.line_id AS id, l.name, l.kind, l.main_material AS material, s.id AS site_id, s.address, s.town, s.area, t.as_of,
         t.occlusion, t.occlusion_sd, t.occlusion_q10, t.occlusion_q90, t.rate_per_month, t.rate_q10, t.rate_q90, t.action_limit, t.plug_limit,
         t.action_q10_on, t.action_q50_on, t.action_q90_on, t.plug_q10_on, t.plug_q50_on, t.plug_q90_on, t.action_chance_30d, t.action_chance_due,
         t.plug_chance_due, t.plug_chance_year, t.readings_used, t.last_evidence_at, t.due_on, t.due_rule, t.due_reasons, t.interval_days
    FROM trend t JOIN line l ON l.id = t.line_id JOIN site s ON s.id = l.site_id
   WHERE l.archived_on IS NULL;
