//go:build unix

package storetest

import (
	"os/exec"
	"syscall"
)

// detach gives a program a session of its own, so that what ends the tests and all their group does not reach it.
func detach(program *exec.Cmd) { program.SysProcAttr = &syscall.SysProcAttr{Setsid: true} }
