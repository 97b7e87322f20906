package store

import "aerugo/internal/studio"

// detailDoc is what else was read from a face: the scale in mm per picture
// pixel, the correction by a colour target (dE00), texture and pooling at widths
// in mm, the two doubts about coverage, and the shares of the surface classes.
// What was not read is left out.
type detailDoc struct {
	MMPerPixel float64        `json:"mm_per_px,omitempty"`
	ScaleOf    string         `json:"scale_of,omitempty"`
	Correction *correctionDoc `json:"correction,omitempty"`
	Texture    *textureDoc    `json:"texture,omitempty"`
	Pooling    *poolingDoc    `json:"pooling,omitempty"`
	Rules      *spanDoc       `json:"coverage_rules,omitempty"`
	Sampling   *spanDoc       `json:"coverage_sampling,omitempty"`
	Classes    []classDoc     `json:"classes,omitempty"`
	ClassRule  string         `json:"class_rule,omitempty"`
}

type spanDoc struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

type classDoc struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

type correctionDoc struct {
	Target  string   `json:"target"`
	Method  string   `json:"method"`
	Patches int      `json:"patches"`
	LOOMean float64  `json:"loo_mean_de00"`
	LOOP95  float64  `json:"loo_p95_de00"`
	Setup   string   `json:"setup,omitempty"`
	Age     float64  `json:"setup_age_s,omitempty"`
	By      string   `json:"brought_by,omitempty"`
	Drift   []string `json:"drift,omitempty"`
}

type scaleDoc struct {
	MM    float64 `json:"mm"`
	Value float64 `json:"value"`
}

type textureDoc struct {
	PairMM      float64    `json:"pair_mm"`
	Contrast    float64    `json:"contrast"`
	Homogeneity float64    `json:"homogeneity"`
	Entropy     float64    `json:"entropy_nat"`
	Variance    []scaleDoc `json:"variance_lab_l2"`
	Grain       []scaleDoc `json:"grain"`
}

type poolingDoc struct {
	Of         string  `json:"of"`
	EdgeRatio  float64 `json:"edge_ratio"`
	Offset     float64 `json:"offset"`
	OffsetDeg  float64 `json:"offset_deg"`
	Islands    int     `json:"islands"`
	LargestMM  float64 `json:"largest_mm"`
	Clustering float64 `json:"clustering"`
	BlockMM    float64 `json:"block_mm"`
}

func detailOf(m studio.Measurement) detailDoc {
	d := detailDoc{MMPerPixel: m.MMPerPixel, ScaleOf: m.ScaleOf, ClassRule: m.ClassRule}
	if c := m.Coverage; c != nil {
		d.Rules, d.Sampling = (*spanDoc)(c.Rules), (*spanDoc)(c.Sampling)
	}
	for _, c := range m.Classes {
		d.Classes = append(d.Classes, classDoc(c))
	}
	if c := m.Correction; c != nil {
		d.Correction = &correctionDoc{c.Target, c.Method, c.Patches, c.LOOMean, c.LOOP95, c.Setup, c.Age.Seconds(), c.By, c.Drift}
	}
	if t := m.Texture; t != nil {
		d.Texture = &textureDoc{t.PairMM, t.Contrast, t.Homogeneity, t.Entropy, scalesToDoc(t.Variance), scalesToDoc(t.Grain)}
	}
	if p := m.Pooling; p != nil {
		d.Pooling = &poolingDoc{p.Of, p.EdgeRatio, p.Offset, p.OffsetDeg, p.Islands, p.LargestMM, p.Clustering, p.BlockMM}
	}
	return d
}

// into fills in the rest of a measurement whose columns are there already.
func (d detailDoc) into(m *studio.Measurement) {
	m.MMPerPixel, m.ScaleOf, m.ClassRule = d.MMPerPixel, d.ScaleOf, d.ClassRule
	if m.Coverage != nil {
		m.Coverage.Rules, m.Coverage.Sampling = (*studio.ShareRange)(d.Rules), (*studio.ShareRange)(d.Sampling)
	}
	for _, c := range d.Classes {
		m.Classes = append(m.Classes, studio.ClassShare(c))
	}
	if c := d.Correction; c != nil {
		m.Correction = &studio.Correction{Target: c.Target, Method: c.Method, Patches: c.Patches, LOOMean: c.LOOMean, LOOP95: c.LOOP95,
			Setup: c.Setup, Age: span(c.Age), By: c.By, Drift: c.Drift}
	}
	if t := d.Texture; t != nil {
		m.Texture = &studio.Texture{PairMM: t.PairMM, Contrast: t.Contrast, Homogeneity: t.Homogeneity, Entropy: t.Entropy,
			Variance: scalesOf(t.Variance), Grain: scalesOf(t.Grain)}
	}
	if p := d.Pooling; p != nil {
		m.Pooling = &studio.Pooling{Of: p.Of, EdgeRatio: p.EdgeRatio, Offset: p.Offset, OffsetDeg: p.OffsetDeg, Islands: p.Islands,
			LargestMM: p.LargestMM, Clustering: p.Clustering, BlockMM: p.BlockMM}
	}
}

func scalesToDoc(in []studio.ScaleValue) []scaleDoc {
	out := make([]scaleDoc, len(in))
	for i, v := range in {
		out[i] = scaleDoc(v)
	}
	return out
}

func scalesOf(in []scaleDoc) []studio.ScaleValue {
	out := make([]studio.ScaleValue, len(in))
	for i, v := range in {
		out[i] = studio.ScaleValue(v)
	}
	return out
}
