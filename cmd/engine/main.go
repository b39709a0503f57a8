//go:build js && wasm

// Command engine is the engine as the browser runs it: two functions on the global object, called by a worker.
package main

import (
	"syscall/js"
	_ "time/tzdata" // the browser gives Go no time zones

	"proofbell/internal/engine"
	"proofbell/internal/words"
)

func main() {
	e := engine.New()
	js.Global().Set("proofbellEngine", js.FuncOf(func(_ js.Value, args []js.Value) any {
		if len(args) != 2 {
			return `{"problem":{"code":"bad-request","say":"The engine takes a method and an argument.","try":"Reload the page."}}`
		}
		return string(e.Call(args[0].String(), []byte(args[1].String())))
	}))
	js.Global().Set("proofbellWords", js.FuncOf(func(_ js.Value, args []js.Value) any {
		if len(args) != 2 {
			return "want a language and its sentences"
		}
		if err := words.Learn(args[0].String(), []byte(args[1].String())); err != nil {
			return err.Error()
		}
		return ""
	}))
	select {} // the functions stay callable
}
