-- What a chat service has us remember, so that several processes and a restarted one go on where the last one was. Ids of
-- the chat stand here as the chat writes them; what a table holds about a group goes with the group.

-- Where a group hears us, who of it keeps it, and since when it is without us. A group that has sent us away is forgotten.
ALTER TABLE groups
    ADD COLUMN channel     text NOT NULL DEFAULT '',             -- where posts to the whole group go
    ADD COLUMN threads     boolean NOT NULL DEFAULT false,       -- may we open private threads in it
    ADD COLUMN keeper_role text NOT NULL DEFAULT '',             -- whose holders keep the group too
    ADD COLUMN gone_at     timestamptz;
CREATE INDEX groups_gone ON groups (gone_at) WHERE gone_at IS NOT NULL;

-- How an account may be reached when nobody asked, and whether its private messages have turned out to be closed.
CREATE TABLE chat_accounts (
    account   text PRIMARY KEY,
    reach     text NOT NULL DEFAULT '' CHECK (reach IN ('', 'message', 'thread', 'visit')),
    closed_at timestamptz
);

-- One message for each thing a member follows: the next word about it finds the last one.
CREATE TABLE chat_messages (
    group_id bigint NOT NULL REFERENCES groups ON DELETE CASCADE,
    account  text NOT NULL,
    about    text NOT NULL,                                      -- the line that shows it, "trade 12"; "" for a thread
    channel  text NOT NULL,
    message  text NOT NULL,
    at       timestamptz NOT NULL,
    PRIMARY KEY (group_id, about, account)
);

-- What could not be said to a member and waits for their next visit.
CREATE TABLE chat_waiting (
    waiting_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id   bigint NOT NULL REFERENCES groups ON DELETE CASCADE,
    account    text NOT NULL,
    key        text NOT NULL,
    reply      jsonb NOT NULL,
    at         timestamptz NOT NULL,
    UNIQUE (group_id, account, key)
);

-- Lines that are too long for a button to carry, by what the button carries instead.
CREATE TABLE chat_lines (
    line text PRIMARY KEY,
    says text NOT NULL,
    at   timestamptz NOT NULL
);
CREATE INDEX chat_lines_by_age ON chat_lines (at);

-- What has been heard, once by whoever heard it first.
CREATE TABLE chat_heard (
    heard text PRIMARY KEY,
    at    timestamptz NOT NULL
);
CREATE INDEX chat_heard_by_age ON chat_heard (at);

-- Who does what only one may do at a time, and until when unless renewed.
CREATE TABLE chat_leases (
    lease  text PRIMARY KEY,
    holder text NOT NULL,
    until  timestamptz NOT NULL
);

-- What may be done only so often: one row each time it was.
CREATE TABLE chat_starts (
    start text NOT NULL,
    at    timestamptz NOT NULL
);
CREATE INDEX chat_starts_by_age ON chat_starts (start, at);

-- Small things under a name: the key that buttons are sealed with, what the chat was last told of our words.
CREATE TABLE chat_notes (
    note  text PRIMARY KEY,
    value text NOT NULL
);
