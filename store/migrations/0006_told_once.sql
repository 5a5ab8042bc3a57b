-- What is told in one message is settled before it is said, so that a message which may have been said before a crash is
-- said again word for word under the same name, and the chat can drop it. The message is named after its oldest notice.
ALTER TABLE notices ADD COLUMN message bigint;
CREATE INDEX notices_untold_messages ON notices (member_id, message) WHERE told_at IS NULL AND message IS NOT NULL;
