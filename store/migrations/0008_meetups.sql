-- Evenings in person: when and where, and who said that they come. A place is a public one; no address of a member is kept.
CREATE TABLE meetups (
    meetup_id  bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id   bigint NOT NULL REFERENCES groups ON DELETE CASCADE,
    at         timestamptz NOT NULL,
    place      text NOT NULL,
    called_off boolean NOT NULL DEFAULT false
);
CREATE INDEX meetups_to_come ON meetups (group_id, at) WHERE NOT called_off;

CREATE TABLE meetup_members (
    meetup_id bigint NOT NULL REFERENCES meetups ON DELETE CASCADE,
    member_id bigint NOT NULL REFERENCES members ON DELETE CASCADE,
    PRIMARY KEY (meetup_id, member_id)
);
CREATE INDEX meetup_members_by_member ON meetup_members (member_id);
