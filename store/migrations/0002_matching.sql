-- What matching needs beyond shelves and trades: whose shelf has changed, what a parcel costs, and rounds.

-- Whose spares, wants or limits changed last in which transaction. A process that keeps a market in memory reads what has
-- moved since the oldest transaction that was still open when it last looked. Written by triggers, so that no change can
-- forget it.
CREATE TABLE market_changes (
    member_id bigint PRIMARY KEY REFERENCES members ON DELETE CASCADE,
    group_id  bigint NOT NULL,
    xact      xid8 NOT NULL
);
CREATE INDEX market_changes_since ON market_changes (group_id, xact);

CREATE FUNCTION market_changed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO market_changes (member_id, group_id, xact)
    VALUES (coalesce(NEW.member_id, OLD.member_id), coalesce(NEW.group_id, OLD.group_id), pg_current_xact_id())
    ON CONFLICT (member_id) DO UPDATE SET xact = EXCLUDED.xact WHERE market_changes.xact <> EXCLUDED.xact;
    RETURN NULL;
END $$;

CREATE TRIGGER market_changed AFTER INSERT OR UPDATE OR DELETE ON holdings FOR EACH ROW EXECUTE FUNCTION market_changed();
CREATE TRIGGER market_changed AFTER INSERT OR UPDATE OR DELETE ON wants FOR EACH ROW EXECUTE FUNCTION market_changed();
CREATE TRIGGER market_changed AFTER INSERT OR UPDATE OF region, topup_limit, left_at ON members
    FOR EACH ROW EXECUTE FUNCTION market_changed();

-- Makes the ids of an exported pool: the same from export to export, and telling nothing.
ALTER TABLE groups ADD COLUMN pool_key uuid NOT NULL DEFAULT gen_random_uuid();

-- What a parcel costs its sender, so much for the parcel and so much for each ounce; none between two regions is free.
CREATE TABLE postage (
    group_id bigint NOT NULL REFERENCES groups,
    source   text NOT NULL,
    target   text NOT NULL,
    parcel   bigint NOT NULL CHECK (parcel >= 0),
    ounce    bigint NOT NULL CHECK (ounce >= 0),
    PRIMARY KEY (group_id, source, target)
);

-- A round clears everyone who opted in together. Of a group's rounds at most one is open.
CREATE TABLE rounds (
    round_id   bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id   bigint NOT NULL REFERENCES groups,
    opened_by  bigint REFERENCES members,                        -- null: the schedule
    opened_at  timestamptz NOT NULL,
    clears_at  timestamptz NOT NULL,
    together   boolean NOT NULL,                                 -- its trades are agreed all or none
    state      text NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'cleared', 'called off')),
    result     jsonb NOT NULL DEFAULT 'null'                     -- of the clearing, in figures
);
CREATE UNIQUE INDEX rounds_one_open ON rounds (group_id) WHERE state = 'open';
CREATE INDEX rounds_due ON rounds (clears_at) WHERE state = 'open';

CREATE TABLE round_members (
    round_id  bigint NOT NULL REFERENCES rounds ON DELETE CASCADE,
    member_id bigint NOT NULL REFERENCES members ON DELETE CASCADE,
    PRIMARY KEY (round_id, member_id)
);

-- When rounds are cleared by themselves. The next one is open from the moment the last is cleared.
CREATE TABLE round_schedules (
    group_id bigint PRIMARY KEY REFERENCES groups,
    spec     text NOT NULL,                                      -- five cron fields, on the group's clock
    together boolean NOT NULL
);

ALTER TABLE trades
    ADD COLUMN round_id bigint REFERENCES rounds,
    ADD COLUMN together boolean NOT NULL DEFAULT false;          -- agreed only with all others of its round
CREATE INDEX trades_by_round ON trades (round_id) WHERE round_id IS NOT NULL;
