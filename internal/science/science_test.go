package science

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRangeErrorReadsAsOneSentence(t *testing.T) {
	for _, c := range []struct {
		err  RangeError
		want string
	}{
		// The limits are those of IAPWS R7-97(2012), from memory; the wording is ours.
		{RangeError{What: "temperature", Got: 20, Min: 273.15, Max: 647.096, Unit: "K", Ref: "iapws-if97-2007"},
			"temperature 20 K is outside 273.15 to 647.096 K, the range of iapws-if97-2007"},
		{RangeError{What: "confidence", Got: 1.5, Min: 0, Max: 1}, "confidence 1.5 is outside 0 to 1"},
	} {
		if got := c.err.Error(); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}

func TestRangeErrorIsFoundWhenWrapped(t *testing.T) {
	var got *RangeError
	err := fmt.Errorf("weigh swatch 7: %w", &RangeError{What: "loading", Got: -1, Max: 500, Unit: "g/m²"})
	if !errors.As(err, &got) || got.Got != -1 {
		t.Errorf("errors.As did not find the RangeError in %v", err)
	}
}

func TestTemperatureFixedPoints(t *testing.T) {
	// ITS-90 fixed points (BIPM), where both scales are printed side by side; from memory.
	for _, c := range []struct {
		name    string
		celsius Celsius
		kelvin  Kelvin
	}{
		{"triple point of water", 0.01, 273.16},
		{"freezing point of copper", 1084.62, 1357.77},
		{"triple point of mercury", -38.8344, 234.3156},
	} {
		if got := c.celsius.Kelvin(); math.Abs(float64(got-c.kelvin)) > 1e-9 {
			t.Errorf("%s: %v °C is %v K, want %v K", c.name, c.celsius, got, c.kelvin)
		}
		if got := c.kelvin.Celsius(); math.Abs(float64(got-c.celsius)) > 1e-9 {
			t.Errorf("%s: %v K is %v °C, want %v °C", c.name, c.kelvin, got, c.celsius)
		}
	}
}

func TestTemperatureGoesThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Celsius(rapid.Float64Range(-273.15, 2000).Draw(t, "celsius"))
		if got := c.Kelvin().Celsius(); math.Abs(float64(got-c)) > 1e-9 {
			t.Fatalf("%v °C came back as %v °C", c, got)
		}
	})
}
