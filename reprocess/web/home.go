package web

// homePage is the list of the places of one's roles, each as its question. Base has them.
type homePage struct {
	Base
	Told []string // what ends soon
}

func home(v *Visit) error {
	p := homePageOf(v.Person.Name)
	w, err := v.setUp()
	if err != nil {
		return err
	}
	p.Told = endingWords(w, v.Person, v.today())
	return v.Show(p)
}

func homePageOf(name string) *homePage {
	p := &homePage{Base: Titled("What do you want to do, " + name + "?")}
	p.PlacesShown = true
	return p
}

func sampleHome() Page {
	p := homePageOf("Ada Okafor")
	p.Person, p.PersonID = "Ada Okafor", "P1"
	p.Places = []Place{{"/bench", "Bench", "What is next on the bench?"},
		{"/desk", "Front desk", "Is it released?"}}
	return p
}

// healthy tells a machine that the server answers; it says nothing else.
func healthy(v *Visit) error { return v.c.SendString("ok\n") }

// demo tells whether everything here is invented.
func (s *Server) demo() bool { return s.cfg.Demo }
