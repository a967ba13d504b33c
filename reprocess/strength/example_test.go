package strength_test

import (
	"fmt"

	"handback/reprocess/strength"
)

func ExampleParseStrength() {
	for _, text := range []string{"70 % (V/V)", "62,4 %w/w", "95.1..96.9 %vol", "70 %", "70°"} {
		f, err := strength.ParseStrength(text)
		if err != nil {
			fmt.Println("refused")
			continue
		}
		fmt.Println(f)
	}
	// Output:
	// 70%v/v
	// 62.4%w/w
	// 95.1..96.9%v/v
	// 70%
	// refused
}

func ExampleJudge() {
	least := strength.Exactly(70, strength.ByMass)
	for _, basis := range []strength.Basis{strength.ByMass, strength.ByVolume, strength.Unstated} {
		part := strength.Part{Alcohol: strength.Ethanol, Figure: strength.Exactly(70, basis)}
		v, _ := strength.Judge([]strength.Part{part}, &least, nil, nil)
		fmt.Println(part, v.Outcome)
	}
	// Output:
	// ethanol=70%w/w pass
	// ethanol=70%v/v fail
	// ethanol=70% undecided
}

func ExampleCorrect() {
	stem := strength.Reading{Value: 70, Scale: strength.ScaleVolume}
	m, _ := strength.Correct(stem, 30, strength.SodaLime)
	fmt.Printf("%.2f %% v/v, give or take %.2f\n", float64(m.Volume), float64(m.Uncertainty))
	// Output: 66.67 % v/v, give or take 0.57
}

func ExamplePlanDilution() {
	p, _ := strength.PlanDilution(strength.Order{Alcohol: strength.Ethanol,
		Stock: strength.Exactly(96, strength.ByVolume), Target: strength.Exactly(70, strength.ByVolume),
		Volume: 1000})
	fmt.Printf("%.1f mL of stock, made up to %s\n", float64(p.Stock), p.Volume)
	fmt.Printf("topped up by measure instead: %.2f %% v/v\n", float64(p.Mistake))
	// Output:
	// 729.2 mL of stock, made up to 1000mL
	// topped up by measure instead: 71.79 % v/v
}

func ExampleEstimateWetness() {
	w, _ := strength.EstimateWetness(strength.Film{
		Parts: []strength.Part{{Alcohol: strength.Ethanol, Figure: strength.Exactly(70, strength.ByVolume)}},
		Mass:  10, Temperature: 20, Air: strength.StillRoomAir, Humidity: strength.MiddleHumidity})
	fmt.Printf("about %.0f s: %s for 15 s, %s for 30 s, %s for 120 s\n", float64(w.Seconds),
		w.Outlook(15), w.Outlook(30), w.Outlook(120))
	// Output: about 35 s: likely for 15 s, doubtful for 30 s, unlikely for 120 s
}
