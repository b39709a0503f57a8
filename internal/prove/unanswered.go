package prove

import (
	"fmt"

	"proofbell/internal/words"
)

// Why a signal is stored and not answered. The reason is kept with the signal, in English and with its account.
var (
	NoAccount = words.Mark("the frame names no account")
	NotOnTest = words.Mark("account %s is not on test: nobody watches")
	NoWindow  = words.Mark("no test window is open for account %s")
	NoJob     = words.Mark("no job here has account %s")
)

// SayWhy says such a reason in the language of the voice; one that is not among them as it was kept.
func (v Voice) SayWhy(why, account string) string {
	for _, format := range []string{NotOnTest, NoWindow, NoJob} {
		if why == fmt.Sprintf(format, account) {
			return v.lang.Say(format, account)
		}
	}
	return v.lang.Word(why)
}
