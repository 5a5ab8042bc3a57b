package chattest

import (
	"fmt"
	"slices"
)

// checkRequest refuses what Discord refuses as malformed: by its published description, then by the hand-written rules.
func (s *Server) checkRequest(c *call) error {
	v := &verdict{}
	if c.route.rules != nil {
		c.route.rules(c, v)
	}
	if s.checks != nil {
		for _, w := range s.checks.request(c) {
			if !slices.ContainsFunc(v.wrong, func(o fieldError) bool { return o.path == w.path }) {
				v.wrong = append(v.wrong, w)
			}
		}
	}
	for _, r := range v.remarks {
		s.problem(fmt.Sprintf("%s %s: %s\n%s", c.Method, c.route.where(c), r, shorten(c.raw)))
	}
	if v.empty {
		return emptyMessage
	}
	return form(v.wrong)
}

// checkAnswer holds this stand-in to the published description.
func (s *Server) checkAnswer(c *call, a answer) {
	if s.checks == nil {
		return
	}
	if err := s.checks.answer(c, a); err != nil {
		s.problem(fmt.Sprintf("the stand-in's own answer to %s %s is wrong: %v", c.Method, c.route.where(c), err))
	}
}

// A verdict gathers what hand-written rules find in a form.
type verdict struct {
	wrong   []fieldError
	remarks []string // what Discord lets pass in silence, and no bot should send
	empty   bool     // a message with nothing in it
}

func (v *verdict) add(path, code, words string, args ...any) {
	v.wrong = append(v.wrong, fieldError{path, code, fmt.Sprintf(words, args...)})
}

func (v *verdict) remark(words string, args ...any) {
	v.remarks = append(v.remarks, fmt.Sprintf(words, args...))
}
