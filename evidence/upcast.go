package evidence

import "fmt"

// upcasters[n] turns a content of format n+1 into format n+2. On disk: add at the end, never change one.
var upcasters = [Format - 1]func(Content) (Content, error){}

// Upcast brings a content of any format from 1 on to [Format]; one that has it already comes back as it is. Read bodies
// from the result, take hashes from the original: a hash always covers the form in which the entry was written.
// Errors wrap [ErrContent] or [ErrNewerFormat].
func Upcast(c Content) (Content, error) {
	return upcast(c, upcasters[:])
}

func upcast(c Content, steps []func(Content) (Content, error)) (Content, error) {
	newest := len(steps) + 1
	switch {
	case c.Fmt < 1:
		return Content{}, fmt.Errorf("%w: fmt: want 1 or more", ErrContent)
	case c.Fmt > newest:
		return Content{}, newerFormat(c.Fmt, newest)
	}
	for c.Fmt < newest {
		from := c.Fmt
		var err error
		if c, err = steps[from-1](c); err != nil {
			return Content{}, fmt.Errorf("bringing entry %s from format %d to %d: %w", c.ID, from, from+1, err)
		}
		c.Fmt = from + 1
	}
	return c, nil
}
