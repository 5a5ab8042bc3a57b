package chattest

type Door struct{}

func (d *Door) close() {}
