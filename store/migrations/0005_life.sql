-- An agreed trade is seen through: who sends when, what arrived, what is wrong, who paid, when somebody is next asked.

ALTER TABLE groups
    ADD COLUMN sending text NOT NULL DEFAULT 'together' CHECK (sending IN ('together', 'newer first', 'middle')),
    ADD COLUMN middle  bigint REFERENCES members ON DELETE SET NULL;  -- who is trusted to stand in the middle

ALTER TABLE trades
    ADD COLUMN silent    boolean NOT NULL DEFAULT false,
    ADD COLUMN fixed     boolean NOT NULL DEFAULT false,         -- the top-ups are put forward, not worked out
    ADD COLUMN middle    bigint REFERENCES members,
    ADD COLUMN passed_on boolean NOT NULL DEFAULT false,
    ADD COLUMN deeds     integer NOT NULL DEFAULT 0;             -- what has happened to it so far
DROP INDEX trades_due;
CREATE INDEX trades_due ON trades (deadline) WHERE state IN ('proposed', 'agreed');

ALTER TABLE trade_parties
    ADD COLUMN turn     integer NOT NULL DEFAULT 0,
    ADD COLUMN arrived  boolean NOT NULL DEFAULT false,
    ADD COLUMN problem  text NOT NULL DEFAULT '',
    ADD COLUMN gone     boolean NOT NULL DEFAULT false,          -- left the group with things on their way
    ADD COLUMN stage    text NOT NULL DEFAULT 'waiting',         -- of what they give
    ADD COLUMN due      timestamptz,
    ADD COLUMN nudges   integer NOT NULL DEFAULT 0,
    ADD COLUMN tracking text NOT NULL DEFAULT '',                -- for the parties alone, and only until the trade is over
    ADD COLUMN late     boolean;                                 -- did they send after the first reminder; null until it is known
CREATE INDEX trade_parties_in_trouble ON trade_parties (trade_id) WHERE stage = 'in trouble';

ALTER TABLE trade_topups
    ADD COLUMN paid   boolean NOT NULL DEFAULT false,
    ADD COLUMN got    boolean NOT NULL DEFAULT false,
    ADD COLUMN due    timestamptz,
    ADD COLUMN nudges integer NOT NULL DEFAULT 0;

-- Quiet spares and wants are matched like others and shown to nobody.
ALTER TABLE holdings ADD COLUMN quiet boolean NOT NULL DEFAULT false;
ALTER TABLE wants
    ADD COLUMN quiet    boolean NOT NULL DEFAULT false,
    ADD COLUMN replaces smallint;                                -- the condition of the example that becomes spare when this is met

-- Who has done what to a trade, and in which words its terms stood then.
CREATE TABLE trade_deeds (
    trade_id bigint NOT NULL REFERENCES trades ON DELETE CASCADE,
    n        integer NOT NULL,
    at       timestamptz NOT NULL,
    member   bigint REFERENCES members ON DELETE CASCADE,        -- null: the clock, or nobody
    deed     text NOT NULL,
    version  integer NOT NULL,                                   -- after it
    terms    jsonb,                                              -- where they are new
    PRIMARY KEY (trade_id, n)
);
CREATE INDEX trade_deeds_by_member ON trade_deeds (member, at) WHERE member IS NOT NULL;

-- What came to a member and what went, written when it was accepted. Only they may see it.
CREATE TABLE ledger (
    entry_id    bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id    bigint NOT NULL REFERENCES groups ON DELETE CASCADE,
    member_id   bigint NOT NULL REFERENCES members ON DELETE CASCADE,
    at          timestamptz NOT NULL,
    trade       bigint NOT NULL,                                 -- its number
    way         text NOT NULL CHECK (way IN ('came', 'went', 'paid', 'got')),
    other       bigint NOT NULL REFERENCES members ON DELETE CASCADE,
    piece       text NOT NULL DEFAULT '',                        -- series/piece@condition; '' for money
    value       bigint NOT NULL,                                 -- as agreed
    currency    text NOT NULL DEFAULT '',                        -- '': value is a fine weight in milligrams
    melt        bigint,                                          -- on the day, in melt_currency; null without a silver price
    melt_currency text NOT NULL DEFAULT '',
    spot        bigint,
    spot_at     timestamptz,
    spot_source text NOT NULL DEFAULT ''
);
CREATE INDEX ledger_by_member ON ledger (member_id, at);

-- When the clock was last served, so that we know that we were away.
CREATE TABLE clock (
    one       boolean PRIMARY KEY DEFAULT true CHECK (one),
    served_at timestamptz NOT NULL
);
