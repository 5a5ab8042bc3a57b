package chattest

func (s *Server) checkRequest(c *call) error    { return nil }
func (s *Server) checkAnswer(c *call, a answer) {}

type description struct{}

func describe(t any) *description { return nil }
