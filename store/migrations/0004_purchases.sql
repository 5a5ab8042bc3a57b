-- What members bought and for how much: written with the change of the shelf that it goes with, taken back with it.
CREATE TABLE purchases (
    purchase_id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    group_id    bigint NOT NULL,
    member_id   bigint NOT NULL,
    change_id   bigint NOT NULL REFERENCES changes ON DELETE CASCADE,
    series      text NOT NULL,
    piece       text NOT NULL,
    condition   smallint NOT NULL DEFAULT 0,
    quantity    integer NOT NULL CHECK (quantity > 0),
    price       bigint NOT NULL CHECK (price >= 0),              -- of one
    currency    text NOT NULL CHECK (currency ~ '^[A-Z]{3}$'),
    at          timestamptz NOT NULL,
    spot        bigint CHECK (spot > 0),                         -- the silver price as it was known then; null if none was
    spot_at     timestamptz,
    tap         text NOT NULL DEFAULT '',                        -- names the button, so that a second press records nothing
    FOREIGN KEY (group_id, member_id) REFERENCES members (group_id, member_id) ON DELETE CASCADE,
    FOREIGN KEY (group_id, series, piece) REFERENCES pieces,
    CHECK ((spot IS NULL) = (spot_at IS NULL))
);
CREATE INDEX purchases_by_piece ON purchases (group_id, series, piece, at);
CREATE INDEX purchases_by_member ON purchases (member_id, at);
CREATE INDEX purchases_by_change ON purchases (change_id);
CREATE UNIQUE INDEX purchases_tapped_once ON purchases (member_id, tap) WHERE tap <> '';

-- How a member reads numbers: a BCP 47 language tag; '' when they have not said.
ALTER TABLE members ADD COLUMN locale text NOT NULL DEFAULT '';
