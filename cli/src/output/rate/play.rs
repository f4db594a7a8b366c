//! Playing a mode in the page: a button under each drawing steps through its moments. Where the reader asks for reduced motion a
//! press shows the next moment and stops. The only script of a report; it touches nothing but the drawings.

/// Under a playable drawing.
pub const BUTTON: &str = "<button type=\"button\" class=\"play\" aria-pressed=\"false\">Play</button>";

/// Style of the button, in every report's own.
pub const STYLE: &str = "<style>.play{font:inherit;padding:.1rem .8rem;border:1px solid #59636b;border-radius:3px;background:#f6f7f7}\
@media print{.play{display:none}}</style>\n";

/// At the end of the page.
pub const SCRIPT: &str = "<script>\n\"use strict\";\n\
const still=matchMedia('(prefers-reduced-motion: reduce)');\n\
for(const button of document.querySelectorAll('button.play')){\n\
const moments=button.closest('figure').querySelectorAll('g.moment');\n\
let at=0,step=1,timer=null;\n\
const show=()=>moments.forEach((m,k)=>{m.style.display=k===at?'':'none';});\n\
const next=()=>{if(moments.length<2){return;}if(at+step<0||at+step>=moments.length){step=-step;}at+=step;show();};\n\
button.addEventListener('click',()=>{\n\
if(still.matches){next();return;}\n\
if(timer){clearInterval(timer);timer=null;at=0;step=1;show();}else{next();timer=setInterval(next,120);}\n\
button.textContent=timer?'Stop':'Play';button.setAttribute('aria-pressed',timer?'true':'false');\n\
});\n}\n</script>\n";

#[cfg(test)]
mod tests {
    /// What a press makes of the button is a word for its reader.
    #[test]
    fn the_button_says_play_and_stop() {
        assert!(super::BUTTON.ends_with(">Play</button>") && super::SCRIPT.contains("timer?'Stop':'Play'"));
    }
}
