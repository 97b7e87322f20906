package evidence

import (
	"cmp"
	"fmt"
	"slices"

	"aerugo/internal/studio"
)

// A Node is a version in a Graph: in which lane, from 0 for what lies lowest, and in
// which row from the top. Own says that it is of the recipe that was asked for.
type Node struct {
	Version   studio.Version
	Name      string
	Lane, Row int
	Own       bool
}

// An Edge joins two nodes, by their row: a later version of the same recipe, or, with
// Over, what lies over the other.
type Edge struct {
	From, To int
	Over     bool
	State    studio.LayState
}

// A Graph is what came from what, and what lies over what.
type Graph struct {
	Nodes []Node // by row
	Edges []Edge
	Lanes int
}

// Lineage gathers around a recipe all its versions, those they lie over down to the
// metal, and those that lie over them. names are the recipes'. Versions of other recipes
// that neither lie over nor under are left out.
func Lineage(recipe int64, versions []studio.Version, names map[int64]string) Graph {
	by := map[int64]studio.Version{}
	for _, v := range versions {
		by[v.ID] = v
	}
	in := map[int64]bool{}
	var down func(id int64)
	down = func(id int64) {
		v, ok := by[id]
		if !ok || in[id] {
			return
		}
		in[id] = true
		down(v.OverID)
	}
	for _, v := range versions {
		if v.RecipeID == recipe {
			down(v.ID)
		}
	}
	above := map[int64]bool{}
	for _, v := range versions {
		if v.RecipeID == recipe {
			above[v.ID] = true
		}
	}
	for grew := true; grew; {
		grew = false
		for _, v := range versions {
			if above[v.OverID] && !above[v.ID] {
				above[v.ID], in[v.ID], grew = true, true, true
			}
		}
	}
	var depth func(id int64, left int) int
	depth = func(id int64, left int) int {
		v := by[id]
		if left == 0 || v.OverID == 0 || !in[v.OverID] {
			return 0
		}
		return 1 + depth(v.OverID, left-1)
	}
	var g Graph
	for id := range in {
		v := by[id]
		lane := depth(id, len(in))
		g.Nodes = append(g.Nodes, Node{Version: v, Name: names[v.RecipeID], Lane: lane, Own: v.RecipeID == recipe})
		g.Lanes = max(g.Lanes, lane+1)
	}
	// a recipe stands together, the lowest first
	lowest := map[int64]int{}
	for _, n := range g.Nodes {
		if l, ok := lowest[n.Version.RecipeID]; !ok || n.Lane < l {
			lowest[n.Version.RecipeID] = n.Lane
		}
	}
	slices.SortFunc(g.Nodes, func(a, b Node) int {
		return cmp.Or(cmp.Compare(lowest[a.Version.RecipeID], lowest[b.Version.RecipeID]), cmp.Compare(a.Version.RecipeID, b.Version.RecipeID),
			cmp.Compare(a.Version.Number, b.Version.Number), cmp.Compare(a.Version.ID, b.Version.ID))
	})
	row := map[int64]int{}
	for i := range g.Nodes {
		g.Nodes[i].Row = i
		row[g.Nodes[i].Version.ID] = i
	}
	for i, n := range g.Nodes {
		if i > 0 && g.Nodes[i-1].Version.RecipeID == n.Version.RecipeID {
			g.Edges = append(g.Edges, Edge{From: i - 1, To: i})
		}
		if at, ok := row[n.Version.OverID]; ok && n.Version.OverID != 0 {
			g.Edges = append(g.Edges, Edge{From: at, To: i, Over: true, State: n.Version.Over})
		}
	}
	return g
}

// Title names a node: "Salt and fumes, version 2".
func (n Node) Title() string { return fmt.Sprintf("%s, version %d", n.Name, n.Version.Number) }

// Words says in a line for each node what it came from and lies over.
func (g Graph) Words() []string {
	var out []string
	for _, n := range g.Nodes {
		text := n.Title()
		for _, e := range g.Edges {
			if e.To != n.Row {
				continue
			}
			switch from := g.Nodes[e.From]; {
			case e.Over:
				text += fmt.Sprintf("; lies over %s, %s", from.Title(), e.State)
			case n.Version.Number > 1:
				text += fmt.Sprintf("; after version %d", from.Version.Number)
			}
		}
		out = append(out, text)
	}
	return out
}
