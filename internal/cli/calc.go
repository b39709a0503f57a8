package cli

import (
	"fmt"

	"proofbell/quantity"
)

type calcCmd struct {
	Standby standbyCmd   `cmd:"" help:"Battery that the panel needs, of a site or from plain numbers; and those of radio devices."`
	Sound   calcSoundCmd `cmd:"" help:"How loud the alarms arrive, room by room or from plain numbers."`
	Radio   calcRadioCmd `cmd:"" help:"Radio links of a site, where repeaters go, or one link from plain numbers. A planning estimate."`
	Reach   calcReachCmd `cmd:"" help:"In how many ways a fire in each room becomes known, and what is weak; or a system from plain numbers. A planning estimate."`
	Drop    calcDropCmd  `cmd:"" help:"What stands at each device of a sounder circuit at the end of the battery."`
	Loop    calcLoopCmd  `cmd:"" help:"What a measured resistance of a supervised input means, and whether its resistors fit the panel."`
}

// typed reads a value with its unit from a flag.
func typed[D quantity.Dimension](into *quantity.Typed[D], flag, text string) (err error) {
	if *into, err = quantity.Parse[D](text); err != nil {
		return fmt.Errorf("%s: %w", flag, err)
	}
	return nil
}
