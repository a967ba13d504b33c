package reprocess

import "time"

// Keep says that a released kit is kept for an appointment. The appointment's reference is a
// random token here, as a wearer's is: what it stands for is kept elsewhere and can be erased.
type Keep struct {
	Token string  `json:"token"`
	Day   Date    `json:"day"`   // of the appointment
	Until Instant `json:"until"` // it lapses by itself then, without an entry
	At    Instant `json:"at"`
	By    string  `json:"by"`
}

// KeptNow is the keep that stands at a moment, or nil: it lapses when it is read.
func (k *Kit) KeptNow(now Now) *Keep {
	if k.Keep == nil || now.UTC >= k.Keep.Until {
		return nil
	}
	return k.Keep
}

type (
	// KitKept keeps a kit for an appointment.
	KitKept struct {
		Kit   string  `json:"kit"`
		Token string  `json:"token"`
		Day   Date    `json:"day"`
		Until Instant `json:"until"`
	}
	// KeepEnded gives it free again.
	KeepEnded struct {
		Kit    string `json:"kit"`
		Reason string `json:"reason,omitempty"`
	}
)

// EventName is "kit_kept".
func (KitKept) EventName() string { return "kit_kept" }

// EventName is "keep_ended".
func (KeepEnded) EventName() string { return "keep_ended" }

// The acts of keeping a kit, of whoever hands out.
const (
	ActKeep    Act = "keep"
	ActKeepEnd Act = "keep_end"
)

// farthestKeep bounds the day of an appointment, in days from today.
const farthestKeep = 30

// KeepKit keeps a released kit for an appointment on a day, until the hour of the settings.
type KeepKit struct {
	Kit   string `json:"kit"`
	Token string `json:"token"`
	Day   Date   `json:"day"`
}

// EndKeep gives a kept kit free.
type EndKeep struct {
	Kit    string `json:"kit"`
	Reason string `json:"reason,omitempty"`
}

// Act is "keep".
func (KeepKit) Act() Act { return ActKeep }

// Act is "keep_end".
func (EndKeep) Act() Act { return ActKeepEnd }

// Needs the kit with its release and the lots behind it.
func (k KeepKit) Needs() Needs { return Needs{Kit: k.Kit} }

// Needs the kit.
func (k EndKeep) Needs() Needs { return Needs{Kit: k.Kit} }

func (k KeepKit) decide(c *Case) *Problem {
	kit, p := c.kit(k.Kit)
	if p != nil {
		return p
	}
	if k.Token == "" {
		return invalid("reference", "Type the appointment’s number or short code, never a name.",
			"No reference was given.")
	}
	if kept := kit.KeptNow(c.Now); kept != nil {
		return conflict("kept", "Take another kit, or give this one free first.",
			"Kit %s is kept for another appointment until %s.", kit.Number,
			Clock(kept.Until, c.Now.Zone))
	}
	if a := CanHandOut(c.W, kit, c.Now); !a.Released {
		return refuse("not_released", a.Ask, "Kit %s is not released: %s", kit.Number, a.Reason)
	}
	until, p := k.until(c)
	if p != nil {
		return p
	}
	if end := goodUntil(kit.Release, c.Now); end != "" && k.Day > end {
		return refuse("release_ends", "Take a kit that is good for longer.",
			"Kit %s is good until %s, before that day.", kit.Number, Day(end))
	}
	c.emit(KitKept{Kit: kit.ID, Token: k.Token, Day: k.Day, Until: until})
	return nil
}

// until is the moment at which the keep lapses on the day of the appointment.
func (k KeepKit) until(c *Case) (Instant, *Problem) {
	day, err := ParseDate(string(k.Day))
	if err != nil {
		return 0, invalid("date", "Type it like 2026-11-24.", "%s.", err)
	}
	today := c.Now.Today()
	if day < today || day > today.AddDays(farthestKeep) {
		return 0, invalid("date", "Choose a day from today on and within 30 days.",
			"%s is no day to keep a kit for.", Day(day))
	}
	until := AtHour(day, c.W.Settings.KeepUntil(), c.Now.Zone)
	if until <= c.Now.UTC {
		return 0, refuse("keep_past", "Hand it out, or keep it for another day.",
			"Keeping a kit for today ends at %s, and that is past.", c.W.Settings.KeepUntil())
	}
	return until, nil
}

func (k EndKeep) decide(c *Case) *Problem {
	kit, p := c.kit(k.Kit)
	if p != nil {
		return p
	}
	if kit.KeptNow(c.Now) == nil {
		return conflict("not_kept", "Nothing to do.", "Kit %s is not kept for anybody.", kit.Number)
	}
	reason, p := clean("The reason", k.Reason, 120)
	if p != nil {
		return p
	}
	c.emit(KeepEnded{Kit: kit.ID, Reason: reason})
	return nil
}

// goodUntil is the earlier of the release's own end and the expiry of the fitted cell; empty
// when neither is known.
func goodUntil(r *Release, now Now) Date {
	until := r.CellUntil
	if r.Until != 0 {
		if day := DateIn(r.Until, now.Zone); until == "" || day < until {
			until = day
		}
	}
	return until
}

// keptCheck asks again when a kit is handed out that is kept for another appointment. The web
// knows which reference a token stands for; the rule compares tokens alone.
func (h HandOut) keptCheck(c *Case, k *Kit) (anyway string, p *Problem) {
	kept := k.KeptNow(c.Now)
	if kept == nil || h.Kept == kept.Token {
		return "", nil
	}
	if anyway, p = clean("Why it is given anyway", h.Anyway, 120); p != nil {
		return "", p
	}
	if anyway == "" {
		return "", conflict("kept", "Take another kit, or say why this one is given anyway.",
			"Kit %s is kept for another appointment until %s.", k.Number,
			Clock(kept.Until, c.Now.Zone))
	}
	return anyway, nil
}

// AtHour is the moment of a clock time such as "14:00" on a day in the zone of the clinic; 0
// when either cannot be read. A time that the change of clocks leaves out moves as package
// time has it.
func AtHour(day Date, clock string, zone *time.Location) Instant {
	if zone == nil {
		zone = time.UTC
	}
	t, err := time.ParseInLocation(DateLayout+" 15:04", string(day)+" "+clock, zone)
	if err != nil {
		return 0
	}
	return InstantOf(t)
}
