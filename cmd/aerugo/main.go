// Command aerugo is the bench companion of people who colour copper, brass and
// bronze: plan, run, measure, learn.
package main

import (
	"os"

	"aerugo/internal/cli"
)

func main() { os.Exit(cli.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
