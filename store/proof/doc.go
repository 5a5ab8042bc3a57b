// Package proof holds the store to its word. Members press at once, the database and the bot are killed in between, and
// what everyone was answered is held against a model that does one thing after another: the answers must be such as could
// have been given by doing each deed at one instant between its call and its answer (Herlihy & Wing 1990,
// linearizability). It has tests only, of a size that fits every day; SPAREOUNCE_FULL=1 runs them at full size.
package proof
