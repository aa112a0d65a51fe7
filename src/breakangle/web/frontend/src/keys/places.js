// What a key is pressed on: a place to type in, and what stores when it is pressed.
export const typing = (target) => Boolean(target?.matches?.("input:not([type=checkbox]):not([type=radio]):not([type=range]), textarea, select, [contenteditable]"));
export const stores = (one) => one.matches("button:not([type=button]), input[type=submit]") && one.form?.method === "post";
