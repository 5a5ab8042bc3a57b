-- What members told us and what we promised. Every id is ours; names and chat accounts stand only here.
-- Money is bigint in the minor unit of the group's currency; spot prices are bigint in hundred-millionths of its major unit.

CREATE TABLE groups (
    group_id          bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    chat              text NOT NULL UNIQUE,                      -- the chat's own id
    name              text NOT NULL,
    zone              text NOT NULL DEFAULT 'UTC',               -- IANA
    currency          text NOT NULL DEFAULT 'USD' CHECK (currency ~ '^[A-Z]{3}$'),
    premium_per_ounce bigint NOT NULL DEFAULT 0,                 -- usual premium on a troy ounce of fine metal
    topup_limit       bigint NOT NULL DEFAULT 1000 CHECK (topup_limit >= 0), -- for members who set none
    ring              integer NOT NULL DEFAULT 3 CHECK (ring BETWEEN 2 AND 5),
    lapse             interval NOT NULL DEFAULT '3 days' CHECK (lapse > '0'),
    catalogue         bigint NOT NULL DEFAULT 1,                 -- raised by every change of a series
    last_trade        bigint NOT NULL DEFAULT 0                  -- the number members last heard
);

CREATE TABLE members (
    member_id   bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id    bigint NOT NULL REFERENCES groups,
    account     text NOT NULL,                                   -- the chat's own id
    name        text NOT NULL,
    keeper      boolean NOT NULL DEFAULT false,
    region      text NOT NULL DEFAULT '',
    topup_limit bigint CHECK (topup_limit >= 0),                 -- null: the group's
    seen        boolean NOT NULL DEFAULT false,                  -- may be named as a holder of what is not spare
    muted       boolean NOT NULL DEFAULT false,
    quiet_from  time,                                            -- in the group's zone
    quiet_to    time,
    digest_at   time,
    joined_at   timestamptz NOT NULL,
    left_at     timestamptz,
    told_of     bigint NOT NULL DEFAULT 0,                       -- changes of the shelf so far
    matched     bigint NOT NULL DEFAULT 0,                       -- ... of which the matcher has seen
    UNIQUE (group_id, account),
    UNIQUE (group_id, member_id),
    CHECK ((quiet_from IS NULL) = (quiet_to IS NULL))
);

CREATE TABLE mutes (
    member_id bigint NOT NULL REFERENCES members ON DELETE CASCADE,
    series    text NOT NULL,
    PRIMARY KEY (member_id, series)
);

-- A series as its people described it. Its pieces are listed beside it, so that nothing can name a piece that is not.
CREATE TABLE series (
    group_id   bigint NOT NULL REFERENCES groups,
    series     text NOT NULL,
    definition jsonb NOT NULL,
    PRIMARY KEY (group_id, series)
);

CREATE TABLE pieces (
    group_id bigint NOT NULL,
    series   text NOT NULL,
    piece    text NOT NULL,
    PRIMARY KEY (group_id, series, piece),
    FOREIGN KEY (group_id, series) REFERENCES series
);

-- Owned is not spare: a spare is the part of a holding that its owner lets go, and a promise takes from the spare.
CREATE TABLE holdings (
    holding_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id   bigint NOT NULL,
    member_id  bigint NOT NULL,
    series     text NOT NULL,
    piece      text NOT NULL,
    condition  smallint NOT NULL DEFAULT 0,
    quantity   integer NOT NULL CHECK (quantity > 0),
    spare      integer NOT NULL DEFAULT 0,
    taken      integer NOT NULL DEFAULT 0 CHECK (taken >= 0),    -- promised in agreed trades
    ask        bigint CHECK (ask >= 0),
    gift       boolean NOT NULL DEFAULT false,
    note       text NOT NULL DEFAULT '',
    UNIQUE (member_id, series, piece, condition),
    FOREIGN KEY (group_id, member_id) REFERENCES members (group_id, member_id),
    FOREIGN KEY (group_id, series, piece) REFERENCES pieces,
    CONSTRAINT spare_is_owned CHECK (spare BETWEEN 0 AND quantity),
    CONSTRAINT promised_once CHECK (taken <= spare)
);
CREATE INDEX holdings_spare ON holdings (group_id, series, piece) WHERE spare > 0;
CREATE INDEX holdings_by_piece ON holdings (group_id, series, piece);

-- A want is one slot to fill, by any of its pieces.
CREATE TABLE wants (
    want_id   bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id  bigint NOT NULL,
    member_id bigint NOT NULL,
    series    text NOT NULL,
    wanted    text NOT NULL,                                     -- the slot's or piece's code, or codes with | between
    quantity  integer NOT NULL CHECK (quantity > 0),
    taken     integer NOT NULL DEFAULT 0,                        -- promised in agreed trades
    priority  smallint NOT NULL DEFAULT 1 CHECK (priority BETWEEN 0 AND 2),
    least     smallint NOT NULL DEFAULT 0,                       -- least condition
    top       bigint CHECK (top >= 0),                           -- most the member would give for it
    note      text NOT NULL DEFAULT '',
    UNIQUE (member_id, series, wanted),
    FOREIGN KEY (group_id, member_id) REFERENCES members (group_id, member_id),
    CONSTRAINT filled_once CHECK (taken BETWEEN 0 AND quantity)
);

CREATE TABLE want_pieces (
    want_id  bigint NOT NULL REFERENCES wants ON DELETE CASCADE,
    group_id bigint NOT NULL,
    series   text NOT NULL,
    piece    text NOT NULL,
    PRIMARY KEY (want_id, piece),
    FOREIGN KEY (group_id, series, piece) REFERENCES pieces
);
CREATE INDEX want_pieces_by_piece ON want_pieces (group_id, series, piece);

-- What counts as complete for one member; a row only where it differs from the series' own list.
CREATE TABLE sets (
    member_id bigint NOT NULL REFERENCES members ON DELETE CASCADE,
    series    text NOT NULL,
    edits     jsonb NOT NULL,
    PRIMARY KEY (member_id, series)
);

-- What a member changed, with the rows as they were, for undo.
CREATE TABLE changes (
    change_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    member_id bigint NOT NULL REFERENCES members ON DELETE CASCADE,
    said      text NOT NULL,
    at        timestamptz NOT NULL,
    rows      jsonb NOT NULL,
    undone    boolean NOT NULL DEFAULT false
);
CREATE INDEX changes_to_undo ON changes (member_id, change_id) WHERE NOT undone;

CREATE TABLE spots (
    group_id bigint NOT NULL REFERENCES groups,
    at       timestamptz NOT NULL,
    currency text NOT NULL,
    price    bigint NOT NULL CHECK (price > 0),                  -- per troy ounce
    source   text NOT NULL,
    PRIMARY KEY (group_id, currency, at)
);

CREATE TABLE trades (
    trade_id    bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id    bigint NOT NULL REFERENCES groups,
    number      bigint NOT NULL,                                 -- what members call it
    version     integer NOT NULL,
    state       text NOT NULL,
    ending      text NOT NULL,
    currency    text NOT NULL,
    chain       boolean NOT NULL,
    deadline    timestamptz NOT NULL,
    lapse       interval NOT NULL,
    terms       text NOT NULL,                                   -- who gives what to whom, in one canonical line
    spot        bigint,
    spot_at     timestamptz,
    spot_source text NOT NULL DEFAULT '',
    reasons     jsonb NOT NULL DEFAULT 'null',
    proposed_at timestamptz NOT NULL,
    moved_at    timestamptz NOT NULL,
    UNIQUE (group_id, number)
);
CREATE UNIQUE INDEX trades_proposed_once ON trades (group_id, terms) WHERE state IN ('proposed', 'agreed');
CREATE INDEX trades_by_terms ON trades (group_id, terms, moved_at);
CREATE INDEX trades_due ON trades (deadline) WHERE state = 'proposed';

CREATE TABLE trade_parties (
    trade_id    bigint NOT NULL REFERENCES trades ON DELETE CASCADE,
    position    integer NOT NULL,                                -- ring order: each gives to the next
    member_id   bigint NOT NULL REFERENCES members,
    topup_limit bigint NOT NULL,
    accepted    boolean NOT NULL,
    shipped     boolean NOT NULL,
    received    boolean NOT NULL,
    PRIMARY KEY (trade_id, position),
    UNIQUE (trade_id, member_id)
);
CREATE INDEX trade_parties_by_member ON trade_parties (member_id, trade_id);

CREATE TABLE trade_items (
    trade_id    bigint NOT NULL REFERENCES trades ON DELETE CASCADE,
    position    integer NOT NULL,
    from_member bigint NOT NULL REFERENCES members,
    to_member   bigint NOT NULL REFERENCES members,
    holding_id  bigint NOT NULL,                                 -- not a foreign key: the record outlives the holding
    want_id     bigint NOT NULL,
    piece       text NOT NULL,                                   -- series/piece@condition
    value       bigint NOT NULL,
    PRIMARY KEY (trade_id, position)
);
CREATE INDEX trade_items_by_holding ON trade_items (holding_id);
CREATE INDEX trade_items_by_want ON trade_items (want_id);

CREATE TABLE trade_topups (
    trade_id    bigint NOT NULL REFERENCES trades ON DELETE CASCADE,
    position    integer NOT NULL,
    from_member bigint NOT NULL REFERENCES members,
    to_member   bigint NOT NULL REFERENCES members,
    amount      bigint NOT NULL CHECK (amount > 0),
    PRIMARY KEY (trade_id, position)
);

-- Born in the transaction that made them true; told once. The key says what makes two notices the same.
CREATE TABLE notices (
    notice_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    member_id bigint NOT NULL REFERENCES members ON DELETE CASCADE,
    kind      text NOT NULL,
    key       text NOT NULL,
    body      jsonb NOT NULL,
    born_at   timestamptz NOT NULL,
    due_at    timestamptz NOT NULL,
    told_at   timestamptz,
    UNIQUE (member_id, key)
);
CREATE INDEX notices_due ON notices (due_at) WHERE told_at IS NULL;
CREATE INDEX notices_untold ON notices (member_id) WHERE told_at IS NULL;
