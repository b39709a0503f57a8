package book_test

import (
	"reflect"
	"regexp"
	"strings"
	"testing"

	"proofbell/internal/book"
	"proofbell/site"
)

// No member of the site file is said in the log by a name that only a program would write.
func TestEveryMemberHasWords(t *testing.T) {
	inner := regexp.MustCompile(`[a-z][A-Z]`)
	said, seen := 0, map[reflect.Type]bool{}
	var walk func(reflect.Type)
	walk = func(of reflect.Type) {
		switch of.Kind() {
		case reflect.Map, reflect.Slice, reflect.Array, reflect.Pointer:
			walk(of.Elem())
			return
		case reflect.Struct:
		default:
			return
		}
		if seen[of] {
			return
		}
		seen[of] = true
		for i := range of.NumField() {
			name, _, _ := strings.Cut(of.Field(i).Tag.Get("json"), ",")
			if inner.MatchString(name) {
				said++
				if say := book.Place("/account/" + name).String(); inner.MatchString(say) {
					t.Errorf("%s.%s is said %q", of, name, say)
				}
			}
			walk(of.Field(i).Type)
		}
	}
	walk(reflect.TypeFor[site.Site]())
	if said < 30 {
		t.Errorf("only %d members were looked at", said)
	}
}
