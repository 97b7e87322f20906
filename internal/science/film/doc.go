// Package film knows what becomes of the liquid on a swatch: whether it stays
// where it was put or gathers in pools, and why; how salt takes up water in the
// air over an ammonia bath, and when a wet face is dry.
//
// Loadings are grams a square metre of face; over the liquid's density they are
// a thickness, and 1 g/m2 of water is 1 µm. A formula outside its range returns
// a [aerugo/internal/science.RangeError]; every answer names what it assumed
// and the interval it may lie in.
package film
