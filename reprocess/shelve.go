package reprocess

// Shelve says that a kit lies where released kits wait to go out. Unlike Move, which takes any
// kit wherever somebody saw it, it takes what may be handed out alone, so that nothing else
// gets among them by a scan.
type Shelve struct {
	Kit   string `json:"kit"`
	Place string `json:"place"`
}

// Act is "move".
func (Shelve) Act() Act { return ActMove }

// Needs the kit, and with it what its release stands on.
func (s Shelve) Needs() Needs { return Needs{Kit: s.Kit} }

func (s Shelve) decide(c *Case) *Problem {
	k, p := c.kit(s.Kit)
	if p != nil {
		return p
	}
	place, p := need("Place", s.Place, 40)
	if p != nil {
		return p
	}
	if a := CanHandOut(c.W, k, c.Now); !a.Released {
		return refuse(a.Rule, a.Ask, "Kit %s does not go there. %s", k.Number, a.Reason)
	}
	c.emit(KitMoved{Kit: k.ID, Place: place})
	return nil
}
