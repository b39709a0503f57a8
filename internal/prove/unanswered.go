package prove

import (
	"strings"

	"proofbell/internal/words"
)

// Why a signal is stored and not answered. The reason is kept with the signal, in English and with its account.
var (
	NoAccount = words.Mark("the frame names no account")
	NotOnTest = words.Mark("account %s is not on test: nobody watches")
	NoWindow  = words.Mark("no test window is open for account %s")
	// Beside is said of a practice run that stands back.
	Beside = words.Mark("account %s is that of a job in earnest too: its signals are not answered for practice")
	NoJob  = words.Mark("no job here has account %s")
	// NearJob names an account that is one slip of the finger away.
	NearJob = words.Mark("no job here has account %s; one has %s: was a digit mistaken, or were two swapped?")
	// Spooled is said while too much waits for the books.
	Spooled = words.Mark("too much waits for the database: nothing is answered until it is in the books")

	NotDecrypted = words.Mark("frame for account %s does not decrypt: key or mode differs")
	NoKey        = words.Mark("frame for account %s is encrypted, and its job has no transmission key here")
	InClear      = words.Mark("frame for account %s came in the clear, and its job takes encrypted ones only")
	// NotKept is about a decrypted frame that holds what no frame in the clear can.
	NotKept = words.Mark("what frame for account %s holds can not be kept")
)

// SayWhy says such a reason in the language of the voice; one that is not among them as it was kept.
func (v Voice) SayWhy(why string) string {
	for _, format := range []string{NotOnTest, NoWindow, Beside, NearJob, NoJob, NotDecrypted, NoKey, InClear, NotKept} {
		if args, ok := said(format, why); ok {
			return v.lang.Say(format, args...)
		}
	}
	return v.lang.Word(why)
}

// said reads the arguments back from a sentence that was made of a format with %s in it and nothing else.
func said(format, sentence string) (args []any, ok bool) {
	parts := strings.Split(format, "%s")
	rest, ok := strings.CutPrefix(sentence, parts[0])
	for i, part := range parts[1:] {
		if !ok {
			return nil, false
		}
		at := strings.Index(rest, part)
		if i == len(parts)-2 { // the last argument reaches to the end of the sentence
			at = len(rest) - len(part)
			ok = strings.HasSuffix(rest, part)
		}
		if at < 0 || !ok {
			return nil, false
		}
		args, rest = append(args, rest[:at]), rest[at+len(part):]
	}
	return args, ok && rest == ""
}
