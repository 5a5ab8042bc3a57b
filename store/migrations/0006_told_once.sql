-- What is told in one message is settled before it is said, so that a message which may have been said before a crash is
-- said again word for word under the same name, and the chat can drop it. The message is named after its oldest notice.
ALTER TABLE notices ADD COLUMN message bigint;
CREATE INDEX notices_untold_messages ON notices (member_id, message) WHERE told_at IS NULL AND message IS NOT NULL;

-- Every transaction that writes leaves one, so that its fate can be asked for when the answer to its commit is lost.
CREATE TABLE receipts (
    receipt text PRIMARY KEY,
    at      timestamptz NOT NULL
);
CREATE INDEX receipts_by_age ON receipts (at);

-- A group's market is read by its wants.
CREATE INDEX wants_by_group ON wants (group_id, member_id);
