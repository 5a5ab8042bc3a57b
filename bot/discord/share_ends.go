package discord

import (
	"context"
	"errors"
	"slices"
	"time"

	"spareounce/bot"
)

// invite adds each party to the thread, once: who goes is not fetched back. Who can't be added is told alone, as ever.
func (h *sharing) invite(ctx context.Context) error {
	for _, account := range h.what.Accounts {
		if slices.Contains(h.place.Invited, account) {
			continue
		}
		err := h.awake(ctx, func() error { return h.s.addToThread(ctx, h.place.Channel, account) })
		if forbidden(err) { // to us, which the keepers can mend, or to them: they can't see the channel
			if err := h.lacks(ctx); err != nil {
				return err
			}
		}
		switch code := codeOf(err); {
		case forbidden(err), code == unknownMember, code == unknownUser, code == threadFull:
			h.s.log.InfoContext(ctx, "a party is not in the thread", "guild", h.group.Chat, "about", h.what.About, "code", code)
			err = nil
		}
		if err != nil {
			return err
		}
		h.place.Invited = append(h.place.Invited, account)
		if err := h.save(ctx); err != nil {
			return err
		}
	}
	return nil
}

// close archives the thread and, where we may, locks it, so that only moderators open it again.
func (h *sharing) close(ctx context.Context) error {
	h.place.Over, h.place.Invited = true, nil
	_, unlocked := h.s.unlocked.get(h.group.Chat)
	err := error(nil)
	if !unlocked {
		err = h.alter(ctx, map[string]any{"archived": true, "locked": true})
		if unlocked = codeOf(err) == missingPermissions; unlocked {
			h.s.unlocked.put(h.group.Chat, true, 24*time.Hour) // locking takes Manage Threads, which we do not ask for
		}
	}
	if unlocked {
		err = h.alter(ctx, map[string]any{"archived": true})
	}
	if err != nil && codeOf(err) != threadArchived {
		return err
	}
	return h.save(ctx)
}

// fate records what a refusal means for the thread. What may pass is an error still, and tried again.
func (h *sharing) fate(ctx context.Context, err error) error {
	if !final(err) {
		return err
	}
	switch {
	case codeOf(err) == unknownChannel: // somebody deleted it, and does not want it back
		h.place = bot.Place{Over: true}
		return errors.Join(h.save(ctx), h.refused(ctx, err, unknownChannel))
	case h.what.Over: // nothing will come after this
		h.place.Over, h.place.Invited = true, nil
		if err := h.save(ctx); err != nil {
			return err
		}
	}
	return h.refused(ctx, err)
}

// refused says what a refusal asks of the keepers, a *bot.LackingError; nil when there is nothing they could do.
func (h *sharing) refused(ctx context.Context, err error, known ...int) error {
	if !final(err) {
		return err
	}
	h.s.log.WarnContext(ctx, "no thread for the parties", "guild", h.group.Chat, "about", h.what.About, "err", err)
	code := codeOf(err)
	switch {
	case slices.Contains(known, code):
		return nil
	case forbidden(err):
		return h.lacks(ctx)
	case code == tooManyThreads:
		return &bot.LackingError{Channel: "#" + h.s.channelName(ctx, h.group.Channel)}
	case code == unknownChannel, code == notInThisKind: // of the group's own channel
		return &bot.LackingError{}
	}
	return nil
}

// lacks is a *bot.LackingError that names what we lack in the group's channel, nil when that is nothing.
func (h *sharing) lacks(ctx context.Context) error {
	if h.group.Channel == "" {
		return nil
	}
	lacks, err := h.s.lacking(ctx, h.group.Chat, h.group.Channel, needed(h.group.Threads))
	if err != nil || len(lacks) == 0 {
		return err
	}
	missing := &bot.LackingError{Channel: "#" + h.s.channelName(ctx, h.group.Channel)}
	for _, one := range lacks {
		missing.Permissions = append(missing.Permissions, string(one))
	}
	return missing
}
