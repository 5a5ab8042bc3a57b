-- The silver price: where a group finds it, what a price must be like to be taken, what was seen of premiums, and the
-- weekly post. Prices are bigint in hundred-millionths of the currency's major unit, as in spots.

-- A row only where a group differs from the rules that columns default to.
CREATE TABLE price_rules (
    group_id    bigint PRIMARY KEY REFERENCES groups ON DELETE CASCADE,
    stale_after interval NOT NULL DEFAULT '24 hours' CHECK (stale_after > '0'), -- older, and no price is called today's
    jump        integer NOT NULL DEFAULT 20 CHECK (jump BETWEEN 1 AND 1000),     -- percent; more wants a keeper's yes
    band_low    bigint CHECK (band_low > 0),                                     -- null: what is usual for the currency
    band_high   bigint,
    every       interval NOT NULL DEFAULT '1 hour' CHECK (every >= '5 minutes'),
    CHECK ((band_low IS NULL) = (band_high IS NULL)),
    CHECK (band_low < band_high)
);

-- Asked in order of their ids until one has a good price, for each currency.
CREATE TABLE spot_sources (
    source_id  bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id   bigint NOT NULL REFERENCES groups ON DELETE CASCADE,
    feed       text NOT NULL,                                    -- its description, in the words a keeper types; no key
    currency   text NOT NULL,
    etag       text NOT NULL DEFAULT '',
    modified   text NOT NULL DEFAULT '',
    failures   integer NOT NULL DEFAULT 0,                       -- since it last answered
    ask_at     timestamptz NOT NULL,
    read_at    timestamptz,                                      -- when it last had a good price
    price      bigint,                                           -- that price
    why        text NOT NULL DEFAULT '',                         -- why it had none when it was asked last, in a member's words
    held       bigint,                                           -- a price that waits for a keeper's yes
    held_at    timestamptz,
    UNIQUE (group_id, feed),
    CHECK ((held IS NULL) = (held_at IS NULL))
);
CREATE INDEX spot_sources_due ON spot_sources (ask_at);

-- When a group's weekly post is due. What comes next stands here; what came is in weekly_posts.
CREATE TABLE weekly (
    group_id  bigint PRIMARY KEY REFERENCES groups ON DELETE CASCADE,
    weekday   smallint NOT NULL CHECK (weekday BETWEEN 1 AND 7), -- Monday is 1, as in ISO 8601
    clock     time NOT NULL,                                     -- in the group's zone
    waits     boolean NOT NULL DEFAULT false,                    -- for a good price, rather than post with the last one
    next_week date NOT NULL CHECK (extract(isodow FROM next_week) = 1), -- its Monday
    next_at   timestamptz NOT NULL
);
CREATE INDEX weekly_due ON weekly (next_at);

-- One row for a group and an ISO week: that is what makes twice impossible.
CREATE TABLE weekly_posts (
    group_id  bigint NOT NULL REFERENCES groups ON DELETE CASCADE,
    week      text NOT NULL CHECK (week ~ '^\d{4}-W\d{2}$'),
    due_at    timestamptz NOT NULL,
    try_at    timestamptz NOT NULL,
    failures  integer NOT NULL DEFAULT 0,
    posted_at timestamptz,
    passed    boolean NOT NULL DEFAULT false,                    -- too long ago when we came back: not posted any more
    seen      jsonb,                                             -- what was possible then, to tell what is new the next time
    PRIMARY KEY (group_id, week),
    CHECK (NOT (passed AND posted_at IS NOT NULL))
);
CREATE INDEX weekly_posts_open ON weekly_posts (try_at) WHERE posted_at IS NULL AND NOT passed;

-- Who agreed to be counted in the group's totals.
CREATE TABLE counted (
    member_id bigint PRIMARY KEY REFERENCES members ON DELETE CASCADE
);

-- What a piece fetched above melt where an owner's ask was agreed to and the trade closed.
CREATE TABLE premiums_seen (
    trade_id bigint NOT NULL REFERENCES trades ON DELETE CASCADE,
    position integer NOT NULL,
    group_id bigint NOT NULL REFERENCES groups ON DELETE CASCADE,
    series   text NOT NULL,
    piece    text NOT NULL,
    at       timestamptz NOT NULL,
    currency text NOT NULL,
    premium  bigint NOT NULL,                                    -- for the piece, in minor units; may be below zero
    PRIMARY KEY (trade_id, position)
);
CREATE INDEX premiums_seen_by_piece ON premiums_seen (group_id, series, piece, at);
