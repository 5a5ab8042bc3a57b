-- The language a member is answered in: what they chose, else what their chat says they use; IETF language tags, '' when
-- neither is known. And the language of what is said to the whole group.
ALTER TABLE members ADD COLUMN language text NOT NULL DEFAULT '', ADD COLUMN chat_language text NOT NULL DEFAULT '';
ALTER TABLE groups ADD COLUMN language text NOT NULL DEFAULT 'en';
