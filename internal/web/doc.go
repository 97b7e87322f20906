// Package web shows the studio on the laptop and the phones at the bench.
//
// A handler reads the request, asks the store and the flow packages, and
// redirects or fills the struct of one page; it takes no decision the command
// line would need too. A page is a struct that embeds Frame and an HTML file of
// the same name in pages/. Everything the browser needs is served from here, so
// that it works without the internet.
//
//	server.go   routes, headers, one place where an error becomes a page
//	access.go   who may come in: this machine, and phones let in by a code
//	live.go     tells open pages that something changed
//	pages.go    templates and what they may call
//	today.go, sets.go, swatches.go, photos.go, ...   one file a page, as in pages/
package web
