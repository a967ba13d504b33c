package recording

import "math"

// shapes measures each beat: its height, whether it points up, whether its top is cut off. It
// answers the median height; ok is false without beats.
func (m *measurer) shapes() (height float64, ok bool) {
	half := int(math.Round(beatHalf * m.rate))
	var heights []float64
	up, cut := 0, 0
	for _, b := range m.beats {
		from, to := max(0, b-half), min(len(m.x), b+half+1)
		w := m.x[from:to]
		heights = append(heights, span(w))
		points := pointsUp(w)
		if points {
			up++
		}
		if m.cutOff(from, to, points) {
			cut++
		}
	}
	if len(heights) == 0 {
		return 0, false
	}
	n := float64(len(m.beats))
	height = median(heights)
	u, c := 100*float64(up)/n, 100*float64(cut)/n
	m.res.Measures.Upright, m.res.Measures.CutOff = &u, &c
	if m.scaled {
		h := Millivolts(height)
		m.res.Measures.Height = &h
	}
	return height, height > 0
}

// pointsUp compares the beat's highest and lowest point with the line between its two ends.
func pointsUp(w []float64) bool {
	line := (w[0] + w[len(w)-1]) / 2
	lo, hi := w[0], w[0]
	for _, v := range w {
		lo, hi = min(lo, v), max(hi, v)
	}
	return hi-line >= line-lo
}

// cutOff tells whether the extreme value of a beat repeats at least three times in a row, or
// stands at an end value of the format.
func (m *measurer) cutOff(from, to int, up bool) bool {
	top := m.x[from]
	for _, v := range m.x[from:to] {
		if up && v > top || !up && v < top {
			top = v
		}
	}
	run := 0
	for i := from; i < to; i++ {
		if m.x[i] != top {
			run = 0
			continue
		}
		if run++; run >= topRepeats || m.end != nil && m.end[i] {
			return true
		}
	}
	return false
}

// jumps counts the samples that change faster than 320 mV/s; a joint is no jump.
func (m *measurer) jumps() {
	n, k := 0, 0
	for i := 1; i < len(m.x); i++ {
		for k < len(m.joints) && m.joints[k] < i {
			k++
		}
		if k < len(m.joints) && m.joints[k] == i {
			continue
		}
		if math.Abs(m.x[i]-m.x[i-1])*m.rate > jumpMVPerS {
			n++
			m.jumped = append(m.jumped, i)
			if !m.nearQuiet(i) {
				m.res.JumpsElsewhere++
			}
		}
	}
	m.res.Measures.Jumps = &n
}

// nearQuiet tells whether sample i lies in a dead line or within a second of one.
func (m *measurer) nearQuiet(i int) bool {
	second := int(m.rate)
	for _, q := range m.quiet {
		if i >= q[0]-second && i <= q[1]+second {
			return true
		}
	}
	return false
}

// drift measures the baseline: what a low-pass of 0.5 Hz leaves, largest p-p in 10 s. Narrow
// sampling windows would only repeat it, so short recordings use what they have.
func (m *measurer) drift() {
	y := lowPass(driftHz, m.rate).run(m.x)
	skip := int(driftSkip * m.rate)
	if len(y) <= skip {
		return
	}
	w := int(driftWindow * m.rate)
	all := Millivolts(largestSpan(y[skip:], w, nil))
	m.res.Measures.Baseline = &all
	hit := make([]bool, len(y))
	settle := int(driftSkip * m.rate)
	for _, q := range m.quiet {
		mark(hit, q[0]-settle, q[1]+settle)
	}
	m.res.BaselineElsewhere = Millivolts(largestSpan(y[skip:], w, hit[skip:]))
	done := 0
	for _, j := range m.jumped { // ascending, so each sample is marked once
		mark(hit, max(j, done), j+settle)
		done = j + settle
	}
	m.res.DriftElsewhere = Millivolts(largestSpan(y[skip:], w, hit[skip:]))
}

func mark(hit []bool, from, to int) {
	for i := max(0, from); i < min(to, len(hit)); i++ {
		hit[i] = true
	}
}

// largestSpan answers the largest max − min within any w samples in a row, leaving out what
// hit marks; two queues of candidates keep it linear.
func largestSpan(y []float64, w int, hit []bool) float64 {
	var lo, hi []int
	best := 0.0
	for i, v := range y {
		if hit != nil && hit[i] {
			lo, hi = lo[:0], hi[:0]
			continue
		}
		for len(lo) > 0 && y[lo[len(lo)-1]] >= v {
			lo = lo[:len(lo)-1]
		}
		for len(hi) > 0 && y[hi[len(hi)-1]] <= v {
			hi = hi[:len(hi)-1]
		}
		lo, hi = append(lo, i), append(hi, i)
		for lo[0] <= i-w {
			lo = lo[1:]
		}
		for hi[0] <= i-w {
			hi = hi[1:]
		}
		best = max(best, y[hi[0]]-y[lo[0]])
	}
	return best
}
