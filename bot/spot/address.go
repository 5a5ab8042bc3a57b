package spot

import "net/netip"

// notPublic are the addresses that lead to no public host. Source: the IANA IPv4 and IPv6 Special-Purpose Address
// Registries (RFC 6890, RFC 8190), from memory but for what net/netip knows; besides, those that wrap an IPv4 address, in
// which a private one could hide.
var notPublic = prefixes(
	"0.0.0.0/8",       // this network
	"10.0.0.0/8",      // private use
	"100.64.0.0/10",   // shared address space
	"127.0.0.0/8",     // loopback
	"169.254.0.0/16",  // link-local; there the clouds keep their credentials
	"172.16.0.0/12",   // private use
	"192.0.0.0/24",    // protocol assignments
	"192.0.2.0/24",    // documentation
	"192.88.99.0/24",  // 6to4 relay
	"192.168.0.0/16",  // private use
	"198.18.0.0/15",   // benchmarking
	"198.51.100.0/24", // documentation
	"203.0.113.0/24",  // documentation
	"224.0.0.0/4",     // multicast
	"240.0.0.0/4",     // reserved, and broadcast
	"::/96",           // unspecified, loopback, and IPv4 in the low bits
	"64:ff9b::/96",    // translation from IPv4
	"64:ff9b:1::/48",  // the same, for local use
	"100::/64",        // discard
	"2001::/23",       // protocol assignments, Teredo among them
	"2001:db8::/32",   // documentation
	"2002::/16",       // 6to4
	"3fff::/20",       // documentation
	"5f00::/16",       // segment routing
	"fc00::/7",        // unique local
	"fe80::/10",       // link-local
	"fec0::/10",       // site-local, of old
	"ff00::/8",        // multicast
)

func prefixes(list ...string) []netip.Prefix {
	var all []netip.Prefix
	for _, text := range list {
		all = append(all, netip.MustParsePrefix(text))
	}
	return all
}

// public reports whether an address leads to a public host.
func public(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	if !a.IsValid() {
		return false
	}
	for _, p := range notPublic {
		if p.Contains(a) {
			return false
		}
	}
	return a.IsGlobalUnicast() && !a.IsPrivate()
}
