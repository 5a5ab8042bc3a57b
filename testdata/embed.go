// Package testdata carries the files that both the tests and the demonstration use: our invented series. Nothing in them
// is real: no maker, place, series or motif.
package testdata

import "embed"

// Series holds the invented series, as files that people write.
//
//go:embed series/*.toml
var Series embed.FS
