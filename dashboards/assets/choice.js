/* Browser side of dashboards.choice.Choice: a list or boxes to tick, as the browser makes them. */
(function () {
  "use strict";
  window.evenmelt = window.evenmelt || {};

  function list(React, props) {
    const options = (props.options || []).map(function (one) {
      return React.createElement("option", { key: one.value, value: one.value }, one.label);
    });
    if (props.hint && !props.value) options.unshift(React.createElement("option", { key: "", value: "" }, props.hint));
    return React.createElement("select", {
      id: props.id, className: "pick " + (props.className || ""), value: props.value || "",
      onChange: function (event) { props.setProps({ value: event.target.value }); },
    }, options);
  }

  function ticks(React, props) {
    const chosen = props.value || [];
    return React.createElement("div", { id: props.id, className: "choices " + (props.className || "") },
      (props.options || []).map(function (one) {
        const on = chosen.includes(one.value);
        return React.createElement("label", { key: one.value },
          React.createElement("input", {
            type: "checkbox", checked: on,
            onChange: function () {
              props.setProps({ value: on ? chosen.filter(function (v) { return v !== one.value; }) : chosen.concat([one.value]) });
            },
          }),
          React.createElement("span", null, one.label));
      }));
  }

  window.evenmelt.Choice = function Choice(props) {
    return props.kind === "ticks" ? ticks(window.React, props) : list(window.React, props);
  };
})();
