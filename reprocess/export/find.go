package export

import (
	"bytes"
	"fmt"

	"handback/reprocess"
)

// FindKit finds the id of the kit with an id or pool number. An id goes before a number; a
// number that was given twice in the course of time is refused.
func FindKit(entries Entries, name string) (string, error) {
	found := ""
	for body, err := range entries {
		if err != nil {
			return "", err
		}
		if !bytes.Contains(body, []byte(`"kit_registered"`)) {
			continue
		}
		e, err := readEntry(body)
		if err != nil {
			return "", err
		}
		for _, b := range e.Events {
			v, ok := b.Event.(reprocess.KitRegistered)
			switch {
			case !ok:
			case v.Kit.ID == name:
				return name, nil
			case v.Kit.Number == name && found != "":
				return "", fmt.Errorf("the kits %s and %s both had the number %q; give the id",
					found, v.Kit.ID, name)
			case v.Kit.Number == name:
				found = v.Kit.ID
			}
		}
	}
	if found == "" {
		return "", fmt.Errorf("there is no kit %q; give its pool number as on the label", name)
	}
	return found, nil
}
