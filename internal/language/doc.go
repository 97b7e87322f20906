// Package language puts everything a person reads into their language. English
// is the source; a language is one gettext PO file, whose msgids are the
// English texts. Pages are translated once, as they are loaded (Page); what
// other packages say in English is recognised and said again (Say).
//
// Adding a language needs no code: a PO file in the studio's folder
// languages/ is enough.
package language
