package export

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// schema checks values against a JSON schema of draft 6, as far as HL7's uses it. A keyword
// that is not known here is a panic, never passed over.
type schema struct {
	definitions map[string]any
	patterns    map[string]*regexp.Regexp
}

func loadSchema(t testing.TB, text []byte) *schema {
	t.Helper()
	var doc struct{ Definitions map[string]any }
	require.NoError(t, json.Unmarshal(text, &doc))
	require.Len(t, doc.Definitions, 82)
	return &schema{doc.Definitions, map[string]*regexp.Regexp{}}
}

// check gives the faults of a value; rule is a schema.
func (s *schema) check(at string, rule map[string]any, v any) (faults []string) {
	fault := func(format string, args ...any) {
		faults = append(faults, at+": "+fmt.Sprintf(format, args...))
	}
	for keyword, arg := range rule {
		switch keyword {
		case "$ref":
			name := strings.TrimPrefix(arg.(string), "#/definitions/")
			faults = append(faults, s.check(at, s.definitions[name].(map[string]any), v)...)
		case "type":
			if typeOf(v) != arg {
				fault("is %s, not %s", typeOf(v), arg)
			}
		case "const":
			if v != arg {
				fault("is %v, not %v", v, arg)
			}
		case "enum":
			if !slices.Contains(arg.([]any), v) {
				fault("%v is none of %v", v, arg)
			}
		case "pattern":
			if !s.pattern(arg.(string)).MatchString(fmt.Sprint(v)) {
				fault("%v does not match", v)
			}
		case "items":
			list, _ := v.([]any)
			for i, item := range list {
				faults = append(faults, s.check(fmt.Sprintf("%s[%d]", at, i), arg.(map[string]any), item)...)
			}
		case "oneOf":
			faults = append(faults, s.oneOf(at, arg.([]any), v)...)
		case "properties", "additionalProperties", "required":
			faults = append(faults, s.members(at, keyword, rule, v)...)
		default:
			panic("keyword " + keyword)
		}
	}
	return faults
}

func (s *schema) pattern(p string) *regexp.Regexp {
	if s.patterns[p] == nil {
		s.patterns[p] = regexp.MustCompile(p)
	}
	return s.patterns[p]
}

func (s *schema) oneOf(at string, rules []any, v any) []string {
	var all []string
	fits := 0
	for _, r := range rules {
		faults := s.check(at, r.(map[string]any), v)
		if len(faults) == 0 {
			fits++
		}
		all = append(all, faults...)
	}
	if fits == 1 {
		return nil
	}
	return append(all, fmt.Sprintf("%s: fits %d of %d", at, fits, len(rules)))
}

func (s *schema) members(at, keyword string, rule map[string]any, v any) (faults []string) {
	members, ok := v.(map[string]any)
	if !ok {
		return []string{at + ": is no object"}
	}
	known, _ := rule["properties"].(map[string]any)
	switch keyword {
	case "required":
		for _, name := range rule["required"].([]any) {
			if members[name.(string)] == nil {
				faults = append(faults, at+": misses "+name.(string))
			}
		}
		return faults
	case "additionalProperties":
		for name := range members {
			if known[name] == nil {
				faults = append(faults, at+": must not have "+name)
			}
		}
		return faults
	}
	for name, value := range members {
		if r, ok := known[name].(map[string]any); ok {
			faults = append(faults, s.check(at+"."+name, r, value)...)
		}
	}
	return faults
}

func typeOf(v any) string {
	switch v.(type) {
	case map[string]any:
		return "object"
	case []any:
		return "array"
	case string:
		return "string"
	case bool:
		return "boolean"
	case float64, json.Number:
		return "number"
	}
	return "null"
}
