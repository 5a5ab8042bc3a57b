-- A place in the chat that only the parties of something share, as in a private thread, with one message that shows how it
-- stands. The row is made with the agreement, so that whoever opens the place finds what others have come to.
CREATE TABLE chat_places (
    group_id bigint NOT NULL REFERENCES groups ON DELETE CASCADE,
    about    text NOT NULL,                                      -- the line that shows it, "trade 12"
    channel  text NOT NULL DEFAULT '',                           -- the place; '' while we know of none
    message  text NOT NULL DEFAULT '',                           -- the one that is kept up to date
    shown    text NOT NULL DEFAULT '',                           -- what it shows, as a digest
    invited  text[] NOT NULL DEFAULT '{}',                       -- accounts, each invited once
    asked_at timestamptz,                                        -- when the place was asked for, while its fate is unknown
    over     boolean NOT NULL DEFAULT false,                     -- closed, lost or given up
    PRIMARY KEY (group_id, about)
);
