//go:build !unix

package pgrun

import (
	"context"
	"errors"
	"time"
)

// Server is a running PostgreSQL. On this system there is never one.
type Server struct{}

var errAddress = errors.New("on this system PostgreSQL cannot be started from here." +
	" Install it with its own installer, then give its address: --database-url")

// Start answers that the address of a server is needed.
func Start(context.Context, Config) (*Server, error) { return nil, errAddress }

// StopWhenUnused does nothing: there is no server.
func StopWhenUnused(context.Context, Config, time.Duration) error { return nil }

// URL returns the empty string.
func (*Server) URL(string) string { return "" }

// Done returns nil, which is never closed.
func (*Server) Done() <-chan struct{} { return nil }

// Err returns nil.
func (*Server) Err() error { return nil }

// Close does nothing.
func (*Server) Close() error { return nil }
