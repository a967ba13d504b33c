package web

import (
	"fmt"

	"handback/reprocess"
	"handback/reprocess/strength"
)

func wetnessForm(f *form, value func(string) string) {
	alcoholFields(f, value)
	f.strength("grams", "Film the wipe leaves, g/m2", value("grams"),
		"Weighed before and after; empty: 10 g/m2 is guessed and the band is wider")
	f.strength("temperature", "Temperature of the room, °C", value("temperature"), "Such as 20")
	f.strength("air", "Speed of the air, m/s", value("air"), "Empty: 0.2, a quiet room")
	f.strength("humidity", "Humidity of the air, %", value("humidity"), "Empty: 50")
	f.strength("contact", "Contact time needed, s", value("contact"), "Such as 60")
}

func reckonWetness(value func(string) string) ([]string, error) {
	film, guessed, err := filmOf(value)
	if err != nil {
		return nil, err
	}
	contact, err := must(value, "contact", "the contact time", readContact)
	if err != nil {
		return nil, err
	}
	w, err := strength.EstimateWetness(film)
	if err != nil {
		return nil, err
	}
	outlook := w.Outlook(contact)
	if guessed {
		outlook = w.OutlookUnknownFilm(contact)
		w.Low, w.High = w.UnknownFilm()
	}
	said := []string{fmt.Sprintf("%s: that one wipe holds for %.0f s", outlook, float64(contact))}
	return append(said, w.Lines()...), nil
}

func filmOf(value func(string) string) (film strength.Film, guessed bool, err error) {
	if film.Parts, err = alcoholParts(value); err != nil {
		return film, false, err
	}
	grams, err := given(value, "grams", "Film", strength.ParseFilm)
	if err != nil {
		return film, false, err
	}
	if film.Mass = reprocess.WipedFilm; grams != nil {
		film.Mass = *grams
	}
	if film.Temperature, err = must(value, "temperature", "the temperature",
		strength.ParseCelsius); err != nil {
		return film, false, err
	}
	air, err := given(value, "air", "Speed of the air", strength.ParseAir)
	if err != nil {
		return film, false, err
	}
	if film.Air = strength.StillRoomAir; air != nil {
		film.Air = *air
	}
	humidity, err := given(value, "humidity", "Humidity", strength.ParseHumidity)
	if err != nil {
		return film, false, err
	}
	if film.Humidity = strength.MiddleHumidity; humidity != nil {
		film.Humidity = *humidity
	}
	return film, grams == nil, nil
}

// readContact reads whole seconds from 1 to 3600.
func readContact(text string) (strength.Seconds, error) {
	n := 0
	for _, r := range text {
		if r < '0' || r > '9' || n > 3600 {
			return 0, fmt.Errorf("%q is no whole number of seconds from 1 to 3600", text)
		}
		n = n*10 + int(r-'0')
	}
	if n < 1 || n > 3600 {
		return 0, fmt.Errorf("%q is no whole number of seconds from 1 to 3600", text)
	}
	return strength.Seconds(n), nil
}
