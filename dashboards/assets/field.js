/* Browser side of dashboards.text_field.TextField: a line or an area of text that belongs to the person who types in it.
   What is typed stands in the browser's own field and is told from there; nothing is written back but a new page's text,
   and what the server leaves in the field after it took what still stands there. */
(function () {
  "use strict";
  window.evenmelt = window.evenmelt || {};
  const done = new WeakSet();
  /* Of fields that an answer takes away while somebody types in them, until what the answer brings is there. */
  const lost = new Map();

  function Line(props) {
    const React = window.React;
    const ref = React.useRef(null);
    const first = React.useRef(props.value || "");
    /* What was told and has not come back yet as the value, oldest first; and the newest value known to Dash. */
    const told = React.useRef([]);
    const known = React.useRef(first.current);
    const typed = React.useRef(false);
    const id = typeof props.id === "object" ? JSON.stringify(props.id, Object.keys(props.id).sort()) : props.id;

    function tell() {
      const text = ref.current.value;
      if (text === known.current) return;
      known.current = text;
      told.current.push(text);
      props.setProps({ value: text });
    }

    React.useLayoutEffect(function () {
      const el = ref.current, about = window.location.pathname + " " + (props.about || "");
      const was = lost.get(id);
      lost.delete(id);
      if (was && was.about === about) {
        el.value = was.text;
        el.focus({ preventScroll: true });
        el.setSelectionRange(was.start, was.end);
        typed.current = true;
        if (!props.debounce) tell();
      }
      return function () {
        if (!typed.current || document.activeElement !== el) return;
        lost.set(id, { about: about, text: el.value, start: el.selectionStart, end: el.selectionEnd });
        window.queueMicrotask(function () { lost.delete(id); });
      };
    }, []);

    React.useLayoutEffect(function () {
      const value = props.value || "";
      const at = told.current.indexOf(value);
      if (at >= 0) {
        told.current.splice(0, at + 1);
      } else if (value !== known.current) {
        known.current = ref.current.value = value;
        told.current = [];
      }
    }, [props.value]);

    React.useLayoutEffect(function () {
      const left = props.left;
      if (!left || done.has(left)) return;
      done.add(left);
      if (ref.current.value !== left.was) return;
      ref.current.value = left.now;
      tell();
    }, [props.left]);

    const area = props.kind === "area";
    const given = {
      id: id, ref: ref, className: props.className, defaultValue: first.current, placeholder: props.placeholder,
      autoComplete: "off", spellCheck: props.spellCheck, disabled: props.disabled,
      onChange: function () { typed.current = true; if (!props.debounce) tell(); },
      onBlur: function () { typed.current = false; tell(); },
      onKeyDown: function (event) { if (event.key === "Enter" && !area) tell(); },
    };
    if (area) Object.assign(given, { rows: props.rows, wrap: props.wrap });
    else given.type = props.kind || "text";
    return React.createElement(area ? "textarea" : "input", given);
  }

  function TextField(props) {
    return window.React.createElement(Line, Object.assign({}, props, { key: JSON.stringify(props.id) }));
  }
  TextField.dashPersistence = { persisted_props: ["value"], persistence_type: "local" };

  window.evenmelt.TextField = TextField;
})();
