package discord

import (
	"fmt"
	"strings"
)

// count counts the leases whose names begin so.
func count(held map[string]string, beginning string) (n int) {
	for name := range held {
		if strings.HasPrefix(name, beginning) {
			n++
		}
	}
	return n
}

// whole reports whether all of so many shards are served.
func whole(held map[string]string, shards int) bool {
	for shard := range shards {
		if _, served := held[fmt.Sprintf("shard %d of %d", shard, shards)]; !served {
			return false
		}
	}
	return true
}

// divisions lists into how many shards guilds are divided by those who serve any, or are about to when next is true.
func divisions(held map[string]string, next bool) (all []int) {
	for name, holder := range held {
		after, connects := strings.CutPrefix(name, "next ")
		if connects && (!next || holder == "") {
			continue
		}
		var shard, shards int
		if n, _ := fmt.Sscanf(after, "shard %d of %d", &shard, &shards); n == 2 {
			all = append(all, shards)
		}
	}
	return all
}

// larger reports whether somebody serves one of more shards.
func larger(held map[string]string, than int) bool {
	for _, shards := range divisions(held, false) {
		if shards > than {
			return true
		}
	}
	return false
}

// superseded reports whether all guilds are heard by another division.
func (d *division) superseded(held map[string]string) bool {
	for _, shards := range divisions(held, false) {
		if shards != d.shards && whole(held, shards) {
			return true
		}
	}
	return false
}

// connecting reports whether somebody connects what we serve, or another division.
func (d *division) connecting(held map[string]string) bool {
	for shard := range d.mine {
		if next, taken := held[d.next(shard)]; taken && next != "" && next != d.s.name {
			return true
		}
	}
	for _, shards := range divisions(held, true) {
		if shards != d.shards {
			return true
		}
	}
	return false
}

// wake tells who waits, who need not be told twice.
func wake(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

func keys[K comparable, V any](m map[K]V) []K {
	all := make([]K, 0, len(m))
	for k := range m {
		all = append(all, k)
	}
	return all
}
