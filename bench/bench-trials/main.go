// Command bench-trials counts how many swatches it takes to come within 3 dE00 of a
// target colour on simulated benches, by the model with physics, the model without,
// one factor at a time and Latin hypercubes; and how often the model's 90 % intervals
// hold new swatches. All chance is seeded: the same call prints the same figures.
package main

import (
	"flag"
	"fmt"
	"log"
	"os"
)

func main() {
	benches := flag.Int("benches", 8, "hidden benches")
	seeds := flag.Int("seeds", 20, "targets for each")
	dir := flag.String("against", "", "write swatches to this folder and fit them, for fit_sklearn.py beside it")
	flag.Parse()
	if *dir != "" {
		if err := against(*dir, os.Stdout); err != nil {
			log.Fatal(err)
		}
		return
	}
	s, err := compare(*benches, *seeds)
	if err != nil {
		log.Fatal(err)
	}
	s.print(os.Stdout)
	fmt.Println()
	c, err := calibrate(*benches, *seeds)
	if err != nil {
		log.Fatal(err)
	}
	c.print(os.Stdout)
}
