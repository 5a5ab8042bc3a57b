changes
    change_id bigint not null identity
    member_id bigint not null
    said text not null
    at timestamp with time zone not null
    rows jsonb not null
    undone boolean not null default false
    changes_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    changes_pkey: PRIMARY KEY (change_id)
    CREATE INDEX changes_to_undo ON public.changes USING btree (member_id, change_id) WHERE (NOT undone)
chat_accounts
    account text not null
    reach text not null default ''::text
    closed_at timestamp with time zone
    chat_accounts_pkey: PRIMARY KEY (account)
    chat_accounts_reach_check: CHECK ((reach = ANY (ARRAY[''::text, 'message'::text, 'thread'::text, 'visit'::text])))
chat_heard
    heard text not null
    at timestamp with time zone not null
    chat_heard_pkey: PRIMARY KEY (heard)
    CREATE INDEX chat_heard_by_age ON public.chat_heard USING btree (at)
chat_leases
    lease text not null
    holder text not null
    until timestamp with time zone not null
    chat_leases_pkey: PRIMARY KEY (lease)
chat_lines
    line text not null
    says text not null
    at timestamp with time zone not null
    chat_lines_pkey: PRIMARY KEY (line)
    CREATE INDEX chat_lines_by_age ON public.chat_lines USING btree (at)
chat_messages
    group_id bigint not null
    account text not null
    about text not null
    channel text not null
    message text not null
    at timestamp with time zone not null
    chat_messages_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    chat_messages_pkey: PRIMARY KEY (group_id, about, account)
chat_notes
    note text not null
    value text not null
    chat_notes_pkey: PRIMARY KEY (note)
chat_places
    group_id bigint not null
    about text not null
    channel text not null default ''::text
    message text not null default ''::text
    shown text not null default ''::text
    invited text[] not null default '{}'::text[]
    asked_at timestamp with time zone
    over boolean not null default false
    chat_places_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    chat_places_pkey: PRIMARY KEY (group_id, about)
chat_starts
    start text not null
    at timestamp with time zone not null
    CREATE INDEX chat_starts_by_age ON public.chat_starts USING btree (start, at)
chat_waiting
    waiting_id bigint not null identity
    group_id bigint not null
    account text not null
    key text not null
    reply jsonb not null
    at timestamp with time zone not null
    chat_waiting_group_id_account_key_key: UNIQUE (group_id, account, key)
    chat_waiting_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    chat_waiting_pkey: PRIMARY KEY (waiting_id)
clock
    one boolean not null default true
    served_at timestamp with time zone not null
    clock_one_check: CHECK (one)
    clock_pkey: PRIMARY KEY (one)
counted
    member_id bigint not null
    counted_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    counted_pkey: PRIMARY KEY (member_id)
groups
    group_id bigint not null identity
    chat text not null
    name text not null
    zone text not null default 'UTC'::text
    currency text not null default 'USD'::text
    premium_per_ounce bigint not null default 0
    topup_limit bigint not null default 1000
    ring integer not null default 3
    lapse interval not null default '3 days'::interval
    catalogue bigint not null default 1
    last_trade bigint not null default 0
    pool_key uuid not null default gen_random_uuid()
    sending text not null default 'together'::text
    middle bigint
    channel text not null default ''::text
    threads boolean not null default false
    keeper_role text not null default ''::text
    gone_at timestamp with time zone
    language text not null default 'en'::text
    groups_chat_key: UNIQUE (chat)
    groups_currency_check: CHECK ((currency ~ '^[A-Z]{3}$'::text))
    groups_lapse_check: CHECK ((lapse > '00:00:00'::interval))
    groups_middle_fkey: FOREIGN KEY (middle) REFERENCES members(member_id) ON DELETE SET NULL
    groups_pkey: PRIMARY KEY (group_id)
    groups_ring_check: CHECK (((ring >= 2) AND (ring <= 5)))
    groups_sending_check: CHECK ((sending = ANY (ARRAY['together'::text, 'newer first'::text, 'middle'::text])))
    groups_topup_limit_check: CHECK ((topup_limit >= 0))
    CREATE INDEX groups_gone ON public.groups USING btree (gone_at) WHERE (gone_at IS NOT NULL)
holdings
    holding_id bigint not null identity
    group_id bigint not null
    member_id bigint not null
    series text not null
    piece text not null
    condition smallint not null default 0
    quantity integer not null
    spare integer not null default 0
    taken integer not null default 0
    ask bigint
    gift boolean not null default false
    note text not null default ''::text
    quiet boolean not null default false
    holdings_ask_check: CHECK ((ask >= 0))
    holdings_group_id_member_id_fkey: FOREIGN KEY (group_id, member_id) REFERENCES members(group_id, member_id)
    holdings_group_id_series_piece_fkey: FOREIGN KEY (group_id, series, piece) REFERENCES pieces(group_id, series, piece)
    holdings_member_id_series_piece_condition_key: UNIQUE (member_id, series, piece, condition)
    holdings_pkey: PRIMARY KEY (holding_id)
    holdings_quantity_check: CHECK ((quantity > 0))
    holdings_taken_check: CHECK ((taken >= 0))
    promised_once: CHECK ((taken <= spare))
    spare_is_owned: CHECK (((spare >= 0) AND (spare <= quantity)))
    CREATE INDEX holdings_by_piece ON public.holdings USING btree (group_id, series, piece)
    CREATE INDEX holdings_spare ON public.holdings USING btree (group_id, series, piece) WHERE (spare > 0)
ledger
    entry_id bigint not null identity
    group_id bigint not null
    member_id bigint not null
    at timestamp with time zone not null
    trade bigint not null
    way text not null
    other bigint not null
    piece text not null default ''::text
    value bigint not null
    currency text not null default ''::text
    melt bigint
    melt_currency text not null default ''::text
    spot bigint
    spot_at timestamp with time zone
    spot_source text not null default ''::text
    ledger_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    ledger_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    ledger_other_fkey: FOREIGN KEY (other) REFERENCES members(member_id) ON DELETE CASCADE
    ledger_pkey: PRIMARY KEY (entry_id)
    ledger_way_check: CHECK ((way = ANY (ARRAY['came'::text, 'went'::text, 'paid'::text, 'got'::text])))
    CREATE INDEX ledger_by_member ON public.ledger USING btree (member_id, at)
market_changes
    member_id bigint not null
    group_id bigint not null
    xact xid8 not null
    market_changes_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    market_changes_pkey: PRIMARY KEY (member_id)
    CREATE INDEX market_changes_since ON public.market_changes USING btree (group_id, xact)
meetup_members
    meetup_id bigint not null
    member_id bigint not null
    meetup_members_meetup_id_fkey: FOREIGN KEY (meetup_id) REFERENCES meetups(meetup_id) ON DELETE CASCADE
    meetup_members_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    meetup_members_pkey: PRIMARY KEY (meetup_id, member_id)
    CREATE INDEX meetup_members_by_member ON public.meetup_members USING btree (member_id)
meetups
    meetup_id bigint not null identity
    group_id bigint not null
    at timestamp with time zone not null
    place text not null
    called_off boolean not null default false
    meetups_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    meetups_pkey: PRIMARY KEY (meetup_id)
    CREATE INDEX meetups_to_come ON public.meetups USING btree (group_id, at) WHERE (NOT called_off)
members
    member_id bigint not null identity
    group_id bigint not null
    account text not null
    name text not null
    keeper boolean not null default false
    region text not null default ''::text
    topup_limit bigint
    seen boolean not null default false
    muted boolean not null default false
    quiet_from time without time zone
    quiet_to time without time zone
    digest_at time without time zone
    joined_at timestamp with time zone not null
    left_at timestamp with time zone
    told_of bigint not null default 0
    matched bigint not null default 0
    locale text not null default ''::text
    language text not null default ''::text
    chat_language text not null default ''::text
    members_check: CHECK (((quiet_from IS NULL) = (quiet_to IS NULL)))
    members_group_id_account_key: UNIQUE (group_id, account)
    members_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id)
    members_group_id_member_id_key: UNIQUE (group_id, member_id)
    members_pkey: PRIMARY KEY (member_id)
    members_topup_limit_check: CHECK ((topup_limit >= 0))
migrations
    name text not null
    at timestamp with time zone not null default now()
    migrations_pkey: PRIMARY KEY (name)
mutes
    member_id bigint not null
    series text not null
    mutes_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    mutes_pkey: PRIMARY KEY (member_id, series)
notices
    notice_id bigint not null identity
    member_id bigint not null
    kind text not null
    key text not null
    body jsonb not null
    born_at timestamp with time zone not null
    due_at timestamp with time zone not null
    told_at timestamp with time zone
    message bigint
    notices_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    notices_member_id_key_key: UNIQUE (member_id, key)
    notices_pkey: PRIMARY KEY (notice_id)
    CREATE INDEX notices_due ON public.notices USING btree (due_at) WHERE (told_at IS NULL)
    CREATE INDEX notices_untold ON public.notices USING btree (member_id) WHERE (told_at IS NULL)
    CREATE INDEX notices_untold_messages ON public.notices USING btree (member_id, message) WHERE ((told_at IS NULL) AND (message IS NOT NULL))
pieces
    group_id bigint not null
    series text not null
    piece text not null
    pieces_group_id_series_fkey: FOREIGN KEY (group_id, series) REFERENCES series(group_id, series)
    pieces_pkey: PRIMARY KEY (group_id, series, piece)
postage
    group_id bigint not null
    source text not null
    target text not null
    parcel bigint not null
    ounce bigint not null
    postage_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id)
    postage_ounce_check: CHECK ((ounce >= 0))
    postage_parcel_check: CHECK ((parcel >= 0))
    postage_pkey: PRIMARY KEY (group_id, source, target)
premiums_seen
    trade_id bigint not null
    position integer not null
    group_id bigint not null
    series text not null
    piece text not null
    at timestamp with time zone not null
    currency text not null
    premium bigint not null
    premiums_seen_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    premiums_seen_pkey: PRIMARY KEY (trade_id, "position")
    premiums_seen_trade_id_fkey: FOREIGN KEY (trade_id) REFERENCES trades(trade_id) ON DELETE CASCADE
    CREATE INDEX premiums_seen_by_piece ON public.premiums_seen USING btree (group_id, series, piece, at)
price_rules
    group_id bigint not null
    stale_after interval not null default '24:00:00'::interval
    jump integer not null default 20
    band_low bigint
    band_high bigint
    every interval not null default '01:00:00'::interval
    price_rules_band_low_check: CHECK ((band_low > 0))
    price_rules_check: CHECK (((band_low IS NULL) = (band_high IS NULL)))
    price_rules_check1: CHECK ((band_low < band_high))
    price_rules_every_check: CHECK ((every >= '00:05:00'::interval))
    price_rules_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    price_rules_jump_check: CHECK (((jump >= 1) AND (jump <= 1000)))
    price_rules_pkey: PRIMARY KEY (group_id)
    price_rules_stale_after_check: CHECK ((stale_after > '00:00:00'::interval))
purchases
    purchase_id bigint not null identity
    group_id bigint not null
    member_id bigint not null
    change_id bigint not null
    series text not null
    piece text not null
    condition smallint not null default 0
    quantity integer not null
    price bigint not null
    currency text not null
    at timestamp with time zone not null
    spot bigint
    spot_at timestamp with time zone
    tap text not null default ''::text
    purchases_change_id_fkey: FOREIGN KEY (change_id) REFERENCES changes(change_id) ON DELETE CASCADE
    purchases_check: CHECK (((spot IS NULL) = (spot_at IS NULL)))
    purchases_currency_check: CHECK ((currency ~ '^[A-Z]{3}$'::text))
    purchases_group_id_member_id_fkey: FOREIGN KEY (group_id, member_id) REFERENCES members(group_id, member_id) ON DELETE CASCADE
    purchases_group_id_series_piece_fkey: FOREIGN KEY (group_id, series, piece) REFERENCES pieces(group_id, series, piece)
    purchases_pkey: PRIMARY KEY (purchase_id)
    purchases_price_check: CHECK ((price >= 0))
    purchases_quantity_check: CHECK ((quantity > 0))
    purchases_spot_check: CHECK ((spot > 0))
    CREATE INDEX purchases_by_change ON public.purchases USING btree (change_id)
    CREATE INDEX purchases_by_member ON public.purchases USING btree (member_id, at)
    CREATE INDEX purchases_by_piece ON public.purchases USING btree (group_id, series, piece, at)
    CREATE UNIQUE INDEX purchases_tapped_once ON public.purchases USING btree (member_id, tap) WHERE (tap <> ''::text)
receipts
    receipt text not null
    at timestamp with time zone not null
    receipts_pkey: PRIMARY KEY (receipt)
    CREATE INDEX receipts_by_age ON public.receipts USING btree (at)
round_members
    round_id bigint not null
    member_id bigint not null
    round_members_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    round_members_pkey: PRIMARY KEY (round_id, member_id)
    round_members_round_id_fkey: FOREIGN KEY (round_id) REFERENCES rounds(round_id) ON DELETE CASCADE
round_schedules
    group_id bigint not null
    spec text not null
    together boolean not null
    round_schedules_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id)
    round_schedules_pkey: PRIMARY KEY (group_id)
rounds
    round_id bigint not null identity
    group_id bigint not null
    opened_by bigint
    opened_at timestamp with time zone not null
    clears_at timestamp with time zone not null
    together boolean not null
    state text not null default 'open'::text
    result jsonb not null default 'null'::jsonb
    rounds_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id)
    rounds_opened_by_fkey: FOREIGN KEY (opened_by) REFERENCES members(member_id)
    rounds_pkey: PRIMARY KEY (round_id)
    rounds_state_check: CHECK ((state = ANY (ARRAY['open'::text, 'cleared'::text, 'called off'::text])))
    CREATE INDEX rounds_due ON public.rounds USING btree (clears_at) WHERE (state = 'open'::text)
    CREATE UNIQUE INDEX rounds_one_open ON public.rounds USING btree (group_id) WHERE (state = 'open'::text)
series
    group_id bigint not null
    series text not null
    definition jsonb not null
    series_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id)
    series_pkey: PRIMARY KEY (group_id, series)
sets
    member_id bigint not null
    series text not null
    edits jsonb not null
    sets_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id) ON DELETE CASCADE
    sets_pkey: PRIMARY KEY (member_id, series)
spot_sources
    source_id bigint not null identity
    group_id bigint not null
    feed text not null
    currency text not null
    etag text not null default ''::text
    modified text not null default ''::text
    failures integer not null default 0
    ask_at timestamp with time zone not null
    read_at timestamp with time zone
    price bigint
    why text not null default ''::text
    held bigint
    held_at timestamp with time zone
    spot_sources_check: CHECK (((held IS NULL) = (held_at IS NULL)))
    spot_sources_group_id_feed_key: UNIQUE (group_id, feed)
    spot_sources_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    spot_sources_pkey: PRIMARY KEY (source_id)
    CREATE INDEX spot_sources_due ON public.spot_sources USING btree (ask_at)
spots
    group_id bigint not null
    at timestamp with time zone not null
    currency text not null
    price bigint not null
    source text not null
    spots_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id)
    spots_pkey: PRIMARY KEY (group_id, currency, at)
    spots_price_check: CHECK ((price > 0))
trade_deeds
    trade_id bigint not null
    n integer not null
    at timestamp with time zone not null
    member bigint
    deed text not null
    version integer not null
    terms jsonb
    trade_deeds_member_fkey: FOREIGN KEY (member) REFERENCES members(member_id) ON DELETE CASCADE
    trade_deeds_pkey: PRIMARY KEY (trade_id, n)
    trade_deeds_trade_id_fkey: FOREIGN KEY (trade_id) REFERENCES trades(trade_id) ON DELETE CASCADE
    CREATE INDEX trade_deeds_by_member ON public.trade_deeds USING btree (member, at) WHERE (member IS NOT NULL)
trade_items
    trade_id bigint not null
    position integer not null
    from_member bigint not null
    to_member bigint not null
    holding_id bigint not null
    want_id bigint not null
    piece text not null
    value bigint not null
    trade_items_from_member_fkey: FOREIGN KEY (from_member) REFERENCES members(member_id)
    trade_items_pkey: PRIMARY KEY (trade_id, "position")
    trade_items_to_member_fkey: FOREIGN KEY (to_member) REFERENCES members(member_id)
    trade_items_trade_id_fkey: FOREIGN KEY (trade_id) REFERENCES trades(trade_id) ON DELETE CASCADE
    CREATE INDEX trade_items_by_holding ON public.trade_items USING btree (holding_id)
    CREATE INDEX trade_items_by_want ON public.trade_items USING btree (want_id)
trade_parties
    trade_id bigint not null
    position integer not null
    member_id bigint not null
    topup_limit bigint not null
    accepted boolean not null
    shipped boolean not null
    received boolean not null
    turn integer not null default 0
    arrived boolean not null default false
    problem text not null default ''::text
    gone boolean not null default false
    stage text not null default 'waiting'::text
    due timestamp with time zone
    nudges integer not null default 0
    tracking text not null default ''::text
    late boolean
    trade_parties_member_id_fkey: FOREIGN KEY (member_id) REFERENCES members(member_id)
    trade_parties_pkey: PRIMARY KEY (trade_id, "position")
    trade_parties_trade_id_fkey: FOREIGN KEY (trade_id) REFERENCES trades(trade_id) ON DELETE CASCADE
    trade_parties_trade_id_member_id_key: UNIQUE (trade_id, member_id)
    CREATE INDEX trade_parties_by_member ON public.trade_parties USING btree (member_id, trade_id)
    CREATE INDEX trade_parties_in_trouble ON public.trade_parties USING btree (trade_id) WHERE (stage = 'in trouble'::text)
trade_topups
    trade_id bigint not null
    position integer not null
    from_member bigint not null
    to_member bigint not null
    amount bigint not null
    paid boolean not null default false
    got boolean not null default false
    due timestamp with time zone
    nudges integer not null default 0
    trade_topups_amount_check: CHECK ((amount > 0))
    trade_topups_from_member_fkey: FOREIGN KEY (from_member) REFERENCES members(member_id)
    trade_topups_pkey: PRIMARY KEY (trade_id, "position")
    trade_topups_to_member_fkey: FOREIGN KEY (to_member) REFERENCES members(member_id)
    trade_topups_trade_id_fkey: FOREIGN KEY (trade_id) REFERENCES trades(trade_id) ON DELETE CASCADE
trades
    trade_id bigint not null identity
    group_id bigint not null
    number bigint not null
    version integer not null
    state text not null
    ending text not null
    currency text not null
    chain boolean not null
    deadline timestamp with time zone not null
    lapse interval not null
    terms text not null
    spot bigint
    spot_at timestamp with time zone
    spot_source text not null default ''::text
    reasons jsonb not null default 'null'::jsonb
    proposed_at timestamp with time zone not null
    moved_at timestamp with time zone not null
    round_id bigint
    together boolean not null default false
    silent boolean not null default false
    fixed boolean not null default false
    middle bigint
    passed_on boolean not null default false
    deeds integer not null default 0
    trades_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id)
    trades_group_id_number_key: UNIQUE (group_id, number)
    trades_middle_fkey: FOREIGN KEY (middle) REFERENCES members(member_id)
    trades_pkey: PRIMARY KEY (trade_id)
    trades_round_id_fkey: FOREIGN KEY (round_id) REFERENCES rounds(round_id)
    CREATE INDEX trades_by_round ON public.trades USING btree (round_id) WHERE (round_id IS NOT NULL)
    CREATE INDEX trades_by_terms ON public.trades USING btree (group_id, terms, moved_at)
    CREATE INDEX trades_due ON public.trades USING btree (deadline) WHERE (state = ANY (ARRAY['proposed'::text, 'agreed'::text]))
    CREATE UNIQUE INDEX trades_proposed_once ON public.trades USING btree (group_id, terms) WHERE (state = ANY (ARRAY['proposed'::text, 'agreed'::text]))
want_pieces
    want_id bigint not null
    group_id bigint not null
    series text not null
    piece text not null
    want_pieces_group_id_series_piece_fkey: FOREIGN KEY (group_id, series, piece) REFERENCES pieces(group_id, series, piece)
    want_pieces_pkey: PRIMARY KEY (want_id, piece)
    want_pieces_want_id_fkey: FOREIGN KEY (want_id) REFERENCES wants(want_id) ON DELETE CASCADE
    CREATE INDEX want_pieces_by_piece ON public.want_pieces USING btree (group_id, series, piece)
wants
    want_id bigint not null identity
    group_id bigint not null
    member_id bigint not null
    series text not null
    wanted text not null
    quantity integer not null
    taken integer not null default 0
    priority smallint not null default 1
    least smallint not null default 0
    top bigint
    note text not null default ''::text
    quiet boolean not null default false
    replaces smallint
    filled_once: CHECK (((taken >= 0) AND (taken <= quantity)))
    wants_group_id_member_id_fkey: FOREIGN KEY (group_id, member_id) REFERENCES members(group_id, member_id)
    wants_member_id_series_wanted_key: UNIQUE (member_id, series, wanted)
    wants_pkey: PRIMARY KEY (want_id)
    wants_priority_check: CHECK (((priority >= 0) AND (priority <= 2)))
    wants_quantity_check: CHECK ((quantity > 0))
    wants_top_check: CHECK ((top >= 0))
    CREATE INDEX wants_by_group ON public.wants USING btree (group_id, member_id)
weekly
    group_id bigint not null
    weekday smallint not null
    clock time without time zone not null
    waits boolean not null default false
    next_week date not null
    next_at timestamp with time zone not null
    weekly_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    weekly_next_week_check: CHECK ((EXTRACT(isodow FROM next_week) = (1)::numeric))
    weekly_pkey: PRIMARY KEY (group_id)
    weekly_weekday_check: CHECK (((weekday >= 1) AND (weekday <= 7)))
    CREATE INDEX weekly_due ON public.weekly USING btree (next_at)
weekly_posts
    group_id bigint not null
    week text not null
    due_at timestamp with time zone not null
    try_at timestamp with time zone not null
    failures integer not null default 0
    posted_at timestamp with time zone
    passed boolean not null default false
    seen jsonb
    weekly_posts_check: CHECK ((NOT (passed AND (posted_at IS NOT NULL))))
    weekly_posts_group_id_fkey: FOREIGN KEY (group_id) REFERENCES groups(group_id) ON DELETE CASCADE
    weekly_posts_pkey: PRIMARY KEY (group_id, week)
    weekly_posts_week_check: CHECK ((week ~ '^\d{4}-W\d{2}$'::text))
    CREATE INDEX weekly_posts_open ON public.weekly_posts USING btree (try_at) WHERE ((posted_at IS NULL) AND (NOT passed))
