package run

import (
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"

	"pgregory.net/rapid"
)

var boxes = []studio.Chamber{{ID: 9, Name: "chamber A"}, {ID: 10, Name: "chamber B"}}

// onBench is an entry on its step (from 0), which became current at min.
func onBench(id, swatch int64, step, min int) Entry {
	t := treatment()
	t.ID, t.Swatch = id, swatch
	events := []studio.Event{event(1, studio.Began, 0, min)}
	if step > 0 {
		events = []studio.Event{event(1, studio.Began, 0, min-1), event(2, studio.Done, step-1, min)}
	}
	for i := range events {
		events[i].Treatment = id
	}
	return Entry{Treatment: t, Swatch: studio.Swatch{Number: swatch}, Record: Fold(t, events)}
}

func titles(tasks []Task) string {
	var all []string
	for _, t := range tasks {
		all = append(all, t.Title)
	}
	return strings.Join(all, " / ")
}

func TestBoardSaysWhatTheHandsDo(t *testing.T) {
	tasks := Board(at(30), []Entry{onBench(1, 12, 3, 20)}, boxes)
	if len(tasks) != 1 {
		t.Fatalf("%d tasks", len(tasks))
	}
	task := tasks[0]
	if task.Title != "Brush out swatch 12, front" || task.N != 4 || task.Of != 5 || task.Next != studio.Rinse || task.Dwell {
		t.Errorf("%+v", task)
	}
	if !task.Due.Equal(at(30)) || task.Left != 0 || task.Overdue != 0 || !task.Since.Equal(at(20)) || !task.Latest.IsZero() || task.Caution != "" {
		t.Errorf("a step of the hands is due now: %+v", task)
	}
	if m := task.Members[0]; m.Treatment != 1 || m.Step != 3 || m.Swatch != 12 {
		t.Errorf("%+v", m)
	}
}

func TestDwellIsDueWhenItEnds(t *testing.T) {
	e := onBench(1, 12, 2, 0)
	for _, tc := range []struct {
		now           int
		left, overdue int
		missed        bool
	}{{20, 40, 0, false}, {60, 0, 0, false}, {65, 0, 5, false}, {70, 0, 10, false}, {71, 0, 11, true}} {
		task := Board(at(tc.now), []Entry{e}, boxes)[0]
		if task.Left != time.Duration(tc.left)*time.Minute || task.Overdue != time.Duration(tc.overdue)*time.Minute || task.Missed != tc.missed {
			t.Errorf("at %d min: left %s, overdue %s, missed %v", tc.now, task.Left, task.Overdue, task.Missed)
		}
		if !task.Due.Equal(at(60)) || !task.Latest.Equal(at(70)) {
			t.Errorf("at %d min: due %s, latest %s: they are facts and must not move", tc.now, task.Due, task.Latest)
		}
	}
	task := Board(at(65), []Entry{e}, boxes)[0]
	if task.Title != "Open chamber A: take out swatch 12, front" || task.Caution == "" {
		t.Errorf("%q, caution %q", task.Title, task.Caution)
	}
}

func TestOneOpeningForWhatIsDueTogether(t *testing.T) {
	entries := []Entry{onBench(1, 5, 2, 1), onBench(2, 3, 2, 0), onBench(3, 8, 2, 4)}
	tasks := Board(at(30), entries, boxes)
	if titles(tasks) != "Open chamber A once: take out swatches 3 and 5, front / Open chamber A: take out swatch 8, front" {
		t.Errorf("%s", titles(tasks))
	}
	if !tasks[0].Due.Equal(at(60)) || !tasks[0].Latest.Equal(at(70)) || len(tasks[0].Members) != 2 {
		t.Errorf("%+v", tasks[0])
	}
	// overdue ones count as due now, and come out in the opening of one due in a minute
	if got := titles(Board(at(63), entries, boxes)); got != "Open chamber A once: take out swatches 3, 5 and 8, front" {
		t.Errorf("overdue: %s", got)
	}
	far := entries
	far[0].Treatment.Steps[2].ChamberID = 10
	if got := len(Board(at(30), far, boxes)); got != 3 {
		t.Errorf("two chambers make %d tasks, want 3", got)
	}
	back := onBench(4, 4, 2, 0)
	back.Treatment.Faces = studio.OnBoth
	if got := titles(Board(at(30), []Entry{onBench(2, 3, 2, 0), back}, boxes)); got != "Open chamber A once: take out swatches 3 (front) and 4 (both faces)" {
		t.Errorf("%s", got)
	}
	if got := len(Board(at(30), []Entry{onBench(1, 1, 3, 5), onBench(2, 2, 3, 5)}, boxes)); got != 2 {
		t.Errorf("brushing two swatches makes %d tasks, want 2", got)
	}
}

func TestOverdueComesFirstByWhatItHasLeft(t *testing.T) {
	slack := onBench(1, 1, 2, 0) // due 60, latest 70
	tight := onBench(2, 2, 2, 2) // due 62, latest 62
	tight.Treatment.Steps[2].Late, tight.Treatment.Steps[2].ChamberID = 0, 10
	hands := onBench(3, 3, 3, 30)
	later := onBench(4, 4, 2, 30)
	later.Treatment.Steps[2].ChamberID = 11
	got := titles(Board(at(65), []Entry{later, hands, slack, tight}, boxes))
	want := "Open chamber B: take out swatch 2, front / Open chamber A: take out swatch 1, front / Brush out swatch 3, front / Open the chamber: take out swatch 4, front"
	if got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}

func TestBoardLeavesOutWhatIsNotRunning(t *testing.T) {
	planned := Entry{Treatment: treatment(), Record: fold()}
	var all []studio.Event
	for i := 0; i < 5; i++ {
		all = append(all, event(int64(i+1), studio.Done, i, i))
	}
	done := Entry{Treatment: treatment(), Record: fold(all...)}
	stopped := Entry{Treatment: treatment(), Record: fold(event(1, studio.Began, 0, 0), event(2, studio.Stopped, 0, 3))}
	if tasks := Board(at(30), []Entry{planned, done, stopped}, boxes); len(tasks) != 0 {
		t.Errorf("%s", titles(tasks))
	}
}

func TestDoubtfulTimesAreSaid(t *testing.T) {
	sound := fold(event(1, studio.Began, 0, 0), event(2, studio.Done, 1, 5))
	if task := Board(at(30), []Entry{{Treatment: treatment(), Record: sound}}, boxes)[0]; task.Doubt != "" {
		t.Errorf("doubt without reason: %s", task.Doubt)
	}
	backwards := fold(event(1, studio.Began, 0, 8), event(2, studio.Done, 0, 5))
	task := Board(at(30), []Entry{{Treatment: treatment(), Record: backwards}}, boxes)[0]
	if !strings.Contains(task.Doubt, "ended before it began") {
		t.Errorf("doubt %q", task.Doubt)
	}
	unknown := sound
	unknown.Steps = append([]StepRecord{}, sound.Steps...)
	unknown.Steps[2].Began = time.Time{}
	task = Board(at(30), []Entry{{Treatment: treatment(), Record: unknown}}, boxes)[0]
	if task.Doubt == "" || task.Overdue != 0 || !task.Due.Equal(at(30)) {
		t.Errorf("%+v", task)
	}
}

func TestHandsStepIsLatePastItsTolerance(t *testing.T) {
	e := onBench(1, 12, 3, 0) // brush out 2 min
	e.Treatment.Steps[3].Late = 5 * time.Minute
	task := Board(at(9), []Entry{e}, boxes)[0]
	if !task.Latest.Equal(at(7)) || !task.Missed || task.Overdue != 2*time.Minute {
		t.Errorf("%+v", task)
	}
}

// Every running treatment is on the board once, however tasks are joined; no
// member's tolerance breaks before its task's Latest.
func TestEveryRunningTreatmentIsOnTheBoardOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var entries []Entry
		n := rapid.IntRange(0, 12).Draw(t, "n")
		for i := 1; i <= n; i++ {
			e := onBench(int64(i), int64(rapid.IntRange(1, 6).Draw(t, "swatch")), rapid.IntRange(0, 4).Draw(t, "step"), rapid.IntRange(0, 90).Draw(t, "min"))
			e.Treatment.Steps[2].ChamberID = int64(rapid.IntRange(0, 2).Draw(t, "chamber"))
			entries = append(entries, e)
		}
		now := at(rapid.IntRange(0, 200).Draw(t, "now"))
		seen := map[int64]int{}
		early := true
		for _, task := range Board(now, entries, boxes) {
			for _, m := range task.Members {
				seen[m.Treatment]++
				if !m.Latest.IsZero() && m.Latest.Before(task.Latest) || m.Due.Before(task.Due) {
					t.Fatalf("task %+v is later than its member %+v", task, m)
				}
			}
			if task.Overdue > 0 && !early {
				t.Fatal("something overdue comes after something that is not")
			}
			early = early && task.Overdue > 0
		}
		for i := 1; i <= n; i++ {
			if seen[int64(i)] != 1 {
				t.Fatalf("treatment %d is on the board %d times", i, seen[int64(i)])
			}
		}
	})
}
