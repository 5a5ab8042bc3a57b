//go:build !unix

package storetest

import "os/exec"

// detach does nothing: on this system there is no private server, and so no watch.
func detach(*exec.Cmd) {}
