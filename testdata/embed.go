// Package testdata carries the files that both the tests and the demonstration use: our invented series and the
// demonstration's story. Nothing in them is real: no maker, place, series or motif.
package testdata

import "embed"

// Series holds the invented series, as files that people write.
//
//go:embed series/*.toml
var Series embed.FS

// Story holds what the members of the demonstration say, as transcripts.
//
//go:embed story/*.talk
var Story embed.FS
